" The language server from Vim through ALE, with the set-up of editors/vim: waits for a finding,
" reads the hover, applies the quick fix, and waits for the finding to go. Writes what it saw to
" $SEEN; the last line is `done` when all of it happened.
set nocompatible nomore noswapfile hidden viminfo=
set rtp^=/usr/share/vim-ale
let g:ale_hover_to_preview = 1
let g:flankwise_command = $FLANKWISE
source /usr/share/vim-ale/plugin/ale.vim
source $SET_UP/vim/flankwise.vim
filetype on

func! Say(text)
  call writefile(['vim: ' . a:text], $SEEN, 'a')
endfunc
func! Damaged()
  return filter(copy(ale#engine#GetLoclist(bufnr(''))), {_, d -> d.text =~# 'decimal comma'})
endfunc
func! Wait(condition)
  let n = 0
  while n < 400 && !eval(a:condition)
    sleep 20m
    let n += 1
  endwhile
  return eval(a:condition)
endfunc
func! Go(timer)
  exe 'edit ' . $PROGRAM
  if &filetype !=# 'partprogram'
    call Say('the file type is ' . &filetype) | cquit
  endif
  call ale#Queue(0)
  if !Wait('!empty(Damaged())')
    call Say('no finding') | cquit
  endif
  let finding = Damaged()[0]
  call Say('line ' . finding.lnum . ': ' . split(finding.text, '\n')[0])
  call cursor(finding.lnum, finding.col)
  ALEHover
  if !Wait('!empty(filter(range(1, bufnr("$")), {_, b -> join(getbufline(b, 1, "$")) =~# "M30x2-6g"}))')
    call Say('the hover does not name the thread') | cquit
  endif
  call Say('hover names M30x2')
  wincmd z
  call cursor(finding.lnum, finding.col)
  ALECodeAction
  call feedkeys("1\<CR>", 't')
  if !Wait('getline(' . finding.lnum . ') =~# "X27\\.546"')
    call Say('the fix did not mend the word: ' . getline(finding.lnum)) | cquit
  endif
  call ale#Queue(0)
  if !Wait('empty(Damaged())')
    call Say('the finding did not go away') | cquit
  endif
  call Say('mended: ' . getline(finding.lnum))
  call Say('done')
  qa!
endfunc
call timer_start(50, 'Go')
