-- Starts `flankwise lsp` for CNC part programs, by name or by first line.
local group = vim.api.nvim_create_augroup('flankwise', {})

-- A program may have no extension, or one that Neovim gives to another language.
local function is_part_program(name, first)
  local stem = vim.fn.fnamemodify(name, ':t')
  if stem:match('^[Oo]%d%d%d%d?%d?$') then return true end
  if stem:match('%.[nN][cC]$') or stem:match('%.[nN][gG][cC]$') or stem:match('%.[tT][aA][pP]$')
    or stem:match('%.[cC][nN][cC]$') or stem:match('%.[mMsS][pP][fF]$') or stem:match('%.[eE][iI][aA]$')
    or stem:match('%.[mM][iI][nN]$') then
    return true
  end
  return first:match('^%s*%%%s*$') ~= nil or first:match('^%%_N_') ~= nil
    or first:match('^%s*%%?%s*[Oo:]%d+%s*%(') ~= nil
end

vim.api.nvim_create_autocmd({ 'BufRead', 'BufNewFile' }, {
  group = group,
  nested = true, -- so that the file type set here is acted upon
  callback = function(args)
    local first = vim.api.nvim_buf_get_lines(args.buf, 0, 1, false)[1] or ''
    if is_part_program(args.file, first) then vim.bo[args.buf].filetype = 'partprogram' end
  end,
})

vim.api.nvim_create_autocmd('FileType', {
  group = group,
  pattern = 'partprogram',
  callback = function(args)
    vim.bo[args.buf].commentstring = '(%s)'
    -- One server for all programs: the same name and command find the one that runs.
    for _, client in pairs(vim.lsp.get_active_clients and vim.lsp.get_active_clients() or vim.lsp.get_clients()) do
      if client.name == 'flankwise' then
        vim.lsp.buf_attach_client(args.buf, client.id)
        return
      end
    end
    local id = vim.lsp.start_client({
      name = 'flankwise',
      cmd = { vim.g.flankwise_command or 'flankwise', 'lsp' },
      root_dir = vim.fn.getcwd(),
    })
    if id then vim.lsp.buf_attach_client(args.buf, id) end
    vim.keymap.set('n', 'K', vim.lsp.buf.hover, { buffer = args.buf })
  end,
})
