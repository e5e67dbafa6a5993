;;; emacs.el --- the language server from Emacs -*- lexical-binding: t -*-
;; Opens a program with the set-up of editors/emacs, waits for a finding, reads the hover, applies
;; the quick fix, and waits for the finding to go. Ends with status 1 when any of it does not happen.
(require 'package)
(package-initialize)
(require 'eglot)
(setq flankwise-command (getenv "FLANKWISE"))
(load (expand-file-name "emacs/flankwise.el" (getenv "SET_UP")) nil t)
(remove-hook 'part-program-mode-hook #'eglot-ensure) ; it waits for a command loop; connected below
(setq eglot-sync-connect 10 eglot-autoshutdown t eglot-confirm-server-initiated-edits nil
      eglot-send-changes-idle-time 0 flymake-no-changes-timeout 0.05
      make-backup-files nil auto-save-default nil)

(defun fail (text &rest more)
  (message "emacs: %s" (apply #'format text more))
  (kill-emacs 1))

(defun wait (what so)
  "Fails unless SO becomes true within eight seconds."
  (let ((start (float-time)))
    (while (not (funcall so))
      (when (> (- (float-time) start) 8) (fail "%s did not happen" what))
      (accept-process-output nil 0.02)
      (flymake-start))))

(defun damaged ()
  "The finding that the fix mends."
  (seq-find (lambda (it) (string-match-p "decimal comma" (flymake-diagnostic-text it))) (flymake-diagnostics)))

(let ((project-find-functions (list (lambda (folder) (cons 'transient folder)))))
  (find-file (getenv "PROGRAM"))
  (unless (eq major-mode 'part-program-mode) (fail "the mode is %s" major-mode))
  (apply #'eglot (eglot--guess-contact))
  (flymake-mode 1)
  (wait "a finding" #'damaged)
  (let ((finding (damaged)) (server (eglot-current-server)))
    (message "emacs: line %d: %s" (line-number-at-pos (flymake-diagnostic-beg finding))
             (car (split-string (flymake-diagnostic-text finding) "\n")))
    (goto-char (flymake-diagnostic-beg finding))
    (let ((hover (format "%S" (jsonrpc-request server :textDocument/hover (eglot--TextDocumentPositionParams)))))
      (unless (string-match-p "M30x2" hover) (fail "the hover does not name the thread: %s" hover))
      (message "emacs: hover names M30x2"))
    (let* ((place (list :start (eglot--pos-to-lsp-position (line-beginning-position))
                        :end (eglot--pos-to-lsp-position (line-end-position))))
           (marks (vconcat (mapcar (lambda (it) (cdr (assoc 'eglot-lsp-diag (eglot--diag-data it))))
                                   (flymake-diagnostics))))
           (actions (jsonrpc-request server :textDocument/codeAction
                                     (list :textDocument (eglot--TextDocumentIdentifier) :range place
                                           :context (list :diagnostics marks))))
           (fix (seq-find (lambda (it) (equal (plist-get it :kind) "quickfix")) actions)))
      (unless fix (fail "no quick fix: %S" actions))
      (message "emacs: quick fix: %s" (plist-get fix :title))
      (eglot--apply-workspace-edit (plist-get fix :edit))
      (let ((line (buffer-substring (line-beginning-position) (line-end-position))))
        (unless (string-match-p "X27\\.546" line) (fail "the fix did not mend the word: %s" line))
        (eglot--signal-textDocument/didChange)
        (wait "the end of the finding" (lambda () (not (damaged))))
        (message "emacs: mended: %s" line)))
    (eglot-shutdown server)))
(set-buffer-modified-p nil)
