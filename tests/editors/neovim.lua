-- Opens a program with the set-up of editors/neovim, waits for a finding, reads the hover, applies the first quick fix, and waits
-- for the finding to go. Leaves with status 1 when any of it does not happen.
local function fail(text)
  io.stderr:write('neovim: ' .. text .. '\n')
  vim.cmd('cquit 1')
end
local function say(text) io.stdout:write('neovim: ' .. text .. '\n') end

vim.cmd('set nomore shortmess+=F')
-- The set-up that people copy: it finds the program by its name and starts the server.
vim.g.flankwise_command = vim.env.FLANKWISE
vim.cmd('luafile ' .. vim.env.SET_UP .. '/neovim/flankwise.lua')
vim.cmd('edit ' .. vim.env.PROGRAM)
local id
vim.wait(8000, function()
  for _, client in pairs(vim.lsp.get_active_clients()) do
    if client.name == 'flankwise' then id = client.id end
  end
  return id ~= nil
end, 20)
if not id then fail('the server did not start') end
local function found(rule)
  return vim.tbl_filter(function(d)
    local code = d.code or (d.user_data and d.user_data.lsp and d.user_data.lsp.code)
    return code == rule
  end, vim.diagnostic.get(0))
end
if not vim.wait(8000, function() return #found('code-damaged') > 0 end, 20) then
  fail('no finding: ' .. vim.inspect(vim.diagnostic.get(0)))
end
local d = found('code-damaged')[1]
say(('line %d: %s'):format(d.lnum + 1, vim.split(d.message, '\n')[1]))
vim.api.nvim_win_set_cursor(0, { d.lnum + 1, d.col })
local hover = vim.lsp.buf_request_sync(0, 'textDocument/hover', vim.lsp.util.make_position_params(), 3000)
local text = vim.inspect(hover and hover[id] and hover[id].result)
if not text:find('M30x2', 1, true) then fail('the hover does not name the thread: ' .. text) end
say('hover names M30x2')
local params = vim.lsp.util.make_range_params()
params.context = { diagnostics = vim.lsp.diagnostic.get_line_diagnostics(0) }
local answer = vim.lsp.buf_request_sync(0, 'textDocument/codeAction', params, 3000)
local actions = answer and answer[id] and answer[id].result or {}
local client = vim.lsp.get_client_by_id(id)
local fix
for _, action in ipairs(actions) do
  if action.kind == 'quickfix' and action.edit then fix = fix or action end
end
if not fix then fail('no quick fix: ' .. vim.inspect(actions)) end
say('quick fix: ' .. fix.title)
vim.lsp.util.apply_workspace_edit(fix.edit, client.offset_encoding)
local line = vim.api.nvim_buf_get_lines(0, d.lnum, d.lnum + 1, false)[1]
if not line:find('X27.546', 1, true) then fail('the fix did not mend the word: ' .. line) end
if not vim.wait(8000, function() return #found('code-damaged') == 0 end, 20) then
  fail('the finding did not go away')
end
say('mended: ' .. line)
client.stop()
if not vim.wait(3000, function() return client.is_stopped() end, 20) then fail('the server did not stop') end
vim.cmd('qa!')
