/* Puts the text of a field on the clipboard. Without this script the field is selected by hand. */
;(() => {
  for (const button of document.querySelectorAll('[data-copy]')) {
    const field = document.getElementById(button.dataset.copy)
    const says = document.getElementById(`${button.dataset.copy}-copied`)
    button.hidden = false
    field.addEventListener('focus', () => field.select())
    field.select()
    button.addEventListener('click', async () => {
      field.select()
      try {
        // On plain http a page gets no clipboard; the older way still works there.
        if (navigator.clipboard) await navigator.clipboard.writeText(field.value)
        else if (!document.execCommand('copy')) throw new Error('not copied')
        says.textContent = field.dataset.copied
      } catch {
        says.textContent = 'This browser copies nothing by itself: the link is selected, copy it by hand.'
      }
    })
  }
})()
