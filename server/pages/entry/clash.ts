/** An entry was changed by somebody else while its form was open: all three sayings, and the form with what was typed. */
import type { SavedEntry } from '../../records/contract.ts'
import { FormReader } from '../../web/form.ts'
import { dateWords, instantWords, money } from '../../web/format.ts'

export type ClashRow = { readonly label: string; readonly was: string; readonly is: string; readonly typed: string }

export function clashOf(given: {
  readonly opened: SavedEntry
  readonly latest: SavedEntry
  readonly form: FormReader
  readonly timeZone: string
  readonly currency: string
}): readonly ClashRow[] {
  const { opened, latest, form, timeZone } = given
  const by = (entry: SavedEntry) => `${entry.author}, ${instantWords(entry.recordedAt, timeZone)}`
  const cost = (entry: SavedEntry) => (entry.cost_minor === null ? '' : money(entry.cost_minor))
  const odometer = (entry: SavedEntry) => (entry.odometer_km === null ? '' : String(entry.odometer_km))
  const typedDay = form.typed('on')
  const rows = [
    { label: 'Title', was: opened.title, is: latest.title, typed: form.typed('title') },
    {
      label: 'When',
      was: dateWords(opened.effectiveOn),
      is: dateWords(latest.effectiveOn),
      typed: /^\d{4}-\d{2}-\d{2}$/.test(typedDay) ? dateWords(typedDay) : typedDay,
    },
    { label: 'Odometer', was: odometer(opened), is: odometer(latest), typed: form.typed('odometer') },
    { label: given.currency === '' ? 'Cost' : `Cost, ${given.currency}`, was: cost(opened), is: cost(latest), typed: form.typed('cost') },
    { label: 'In words', was: opened.text, is: latest.text, typed: form.typed('text') },
    ...changeRows({ opened, latest, form }),
  ].filter((row) => row.was !== row.is || row.is !== row.typed)
  return [{ label: 'Recorded', was: by(opened), is: by(latest), typed: 'not saved' }, ...rows].map((row) => ({
    label: row.label,
    was: row.was || 'not said',
    is: row.is || 'not said',
    typed: row.typed || 'not said',
  }))
}

/** The same form for the latest version: its changes ticked as they were ticked on the version that was opened. */
export function carriedOver(given: { readonly opened: SavedEntry; readonly latest: SavedEntry; readonly form: FormReader }): FormReader {
  const { opened, latest, form } = given
  const texts = opened.changes.map((change) => JSON.stringify(change))
  const kept = latest.changes.map((change, n): [string, string] => {
    const at = texts.indexOf(JSON.stringify(change))
    return [`keep-${n}`, at < 0 || form.ticked(`keep-${at}`) ? 'yes' : '']
  })
  const typed = Object.entries(form.body).filter(([name]) => !name.startsWith('keep-') && name !== 'once')
  return new FormReader(Object.fromEntries([...typed, ...kept]))
}

function changeRows(given: { readonly opened: SavedEntry; readonly latest: SavedEntry; readonly form: FormReader }): readonly ClashRow[] {
  const { opened, latest, form } = given
  const [before, now] = [opened, latest].map((entry) => entry.changes.map((change) => JSON.stringify(change))) as [string[], string[]]
  const word = (is: boolean) => (is ? 'done' : 'left out')
  return [
    ...opened.sentences.map((says, n) => ({
      label: says,
      was: 'done',
      is: word(now.includes(before[n] ?? '')),
      typed: word(form.ticked(`keep-${n}`)),
    })),
    ...latest.sentences.flatMap((says, n) =>
      before.includes(now[n] ?? '') ? [] : [{ label: says, was: 'left out', is: 'done', typed: 'left out' }],
    ),
  ]
}
