// Every table as it is shown: its caption, and its rows as texts of cells, the head first.
[...document.querySelectorAll('table')].map(table => ({
  caption: table.caption.innerText.trim(),
  rows: [...table.rows].map(row => [...row.cells].map(cell => cell.innerText.trim())),
}))
