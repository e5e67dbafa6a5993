;;; flankwise.el --- CNC part programs with the flankwise language server  -*- lexical-binding: t -*-

;; A major mode for part programs, and eglot's entry for `flankwise lsp'.

;;; Code:

(defgroup flankwise nil "Threading sections of CNC part programs." :group 'tools)

(defcustom flankwise-command "flankwise"
  "The flankwise program."
  :type 'string)

(defvar part-program-mode-syntax-table
  (let ((table (make-syntax-table)))
    (modify-syntax-entry ?\( "<" table)
    (modify-syntax-entry ?\) ">" table)
    (modify-syntax-entry ?\; "." table)
    table))

(defvar part-program-font-lock-keywords
  '(("(\\s-*\\(THREAD\\|ALLOW\\)\\>[^()\n]*)" 1 font-lock-warning-face prepend)
    (";.*$" 0 font-lock-comment-face t)
    ("^\\s-*/?\\(N[0-9]+\\)" 1 font-lock-comment-face)
    ("\\(G\\(?:3[2-5]\\|7[68]\\|84\\|88\\|92\\)\\)\\(?:[^0-9.]\\|$\\)" 1 font-lock-function-name-face)
    ("G[0-9]+\\(?:\\.[0-9]+\\)?" . font-lock-keyword-face)
    ("M[0-9]+" . font-lock-builtin-face)
    ("[FST]-?[0-9.]+" . font-lock-type-face)
    ("#<[^>\n]*>\\|#[0-9]+" . font-lock-variable-name-face)))

;;;###autoload
(define-derived-mode part-program-mode prog-mode "Program"
  "Major mode for CNC part programs."
  :syntax-table part-program-mode-syntax-table
  (setq-local comment-start "(" comment-end ")"
              font-lock-defaults '(part-program-font-lock-keywords nil t)))

;;;###autoload
(dolist (pattern '("\\.\\(?:nc\\|ngc\\|tap\\|cnc\\|mpf\\|spf\\|eia\\|min\\)\\'"
                   "/[Oo][0-9]\\{3,5\\}\\'"))
  (add-to-list 'auto-mode-alist (cons pattern 'part-program-mode)))

;; Programs without a telling name, by their first line.
;;;###autoload
(add-to-list 'magic-fallback-mode-alist
             '("\\`\\s-*\\(?:%\\s-*$\\|%_N_\\|%?[Oo:][0-9]+\\s-*(\\)" . part-program-mode))

(with-eval-after-load 'eglot
  (add-to-list 'eglot-server-programs
               (cons 'part-program-mode (lambda (&rest _) (list flankwise-command "lsp")))))

(add-hook 'part-program-mode-hook #'eglot-ensure)

(provide 'flankwise)
;;; flankwise.el ends here
