" CNC part programs with the flankwise language server, through ALE.
if exists('g:loaded_flankwise') | finish | endif
let g:loaded_flankwise = 1

augroup flankwise
  autocmd!
  autocmd BufRead,BufNewFile *.nc,*.ngc,*.tap,*.cnc,*.mpf,*.spf,*.eia,*.min setlocal filetype=partprogram
  autocmd BufRead,BufNewFile [Oo][0-9][0-9][0-9],[Oo][0-9][0-9][0-9][0-9],[Oo][0-9][0-9][0-9][0-9][0-9] setlocal filetype=partprogram
  " A program without a telling name, by its first line.
  autocmd BufRead * if &filetype ==# '' && getline(1) =~? '^\s*\(%\s*$\|%_N_\|%\?[O:]\d\+\s*(\)' | setlocal filetype=partprogram | endif
  autocmd FileType partprogram setlocal commentstring=(%s)
augroup END


function! FlankwiseRoot(buffer) abort
  return fnamemodify(bufname(a:buffer), ':p:h')
endfunction

silent! call ale#linter#Define('partprogram', {
\   'name': 'flankwise',
\   'lsp': 'stdio',
\   'executable': {buffer -> get(g:, 'flankwise_command', 'flankwise')},
\   'command': '%e lsp',
\   'project_root': function('FlankwiseRoot'),
\ })
