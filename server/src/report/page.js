'use strict';
// Sorts the tables by their columns and shows the rows that hold a text. Works with the keyboard: the heads are buttons.
for (const table of document.querySelectorAll('table.sort')) {
  const heads = [...table.tHead.rows[0].cells];
  const body = table.tBodies[0];
  const value = (row, at) => row.cells[at].textContent;
  heads.forEach((head, at) => {
    const button = head.querySelector('button');
    if (!button) return;
    button.addEventListener('click', () => {
      const numeric = head.classList.contains('n');
      const first = numeric ? 'descending' : 'ascending';
      const other = numeric ? 'ascending' : 'descending';
      const order = head.getAttribute('aria-sort') === first ? other : first;
      const sign = order === 'ascending' ? 1 : -1;
      const keyed = [...body.rows].map((row) => {
        const text = value(row, at);
        return { row, key: numeric ? parseFloat(text) : text };
      });
      const collator = new Intl.Collator('en', { numeric: true });
      keyed.sort((a, b) => {
        if (!numeric) return sign * collator.compare(a.key, b.key);
        // What is not known comes last, whichever way round.
        if (Number.isNaN(a.key) || Number.isNaN(b.key)) return Number.isNaN(a.key) - Number.isNaN(b.key);
        return sign * (a.key - b.key);
      });
      for (const one of heads) one.removeAttribute('aria-sort');
      head.setAttribute('aria-sort', order);
      const sorted = document.createDocumentFragment();
      for (const { row } of keyed) sorted.append(row);
      body.append(sorted);
      document.getElementById('said').textContent = button.textContent + ', ' + order;
    });
  });
}
// The limits of a plan belong on paper too.
addEventListener('beforeprint', () => {
  for (const one of document.querySelectorAll('article details')) one.open = true;
});
const filter = document.getElementById('filter');
if (filter) {
  const rows = [...document.querySelector('#threads tbody').rows].map((row) => [row, row.textContent.toLowerCase()]);
  filter.addEventListener('input', () => {
    const wanted = filter.value.trim().toLowerCase();
    let shown = 0;
    for (const [row, text] of rows) {
      row.hidden = !text.includes(wanted);
      if (!row.hidden) shown += 1;
    }
    document.getElementById('said').textContent = shown + ' rows';
  });
}
