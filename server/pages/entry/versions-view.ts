/** The versions of a corrected entry, and field by field what each says otherwise than the one before. */
import type { SavedEntry } from '../../records/contract.ts'
import { dateWords, instantWords } from '../../web/format.ts'
import { moneyWords } from '../shared/money-words.ts'

export type VersionRow = { readonly label: string; readonly was: string; readonly is: string; readonly how: string }
export type VersionsView = {
  readonly list: readonly {
    readonly name: string
    readonly href: string
    readonly recorded: string
    readonly here: boolean
    readonly same: string
  }[]
  readonly steps: readonly { readonly from: string; readonly to: string; readonly rows: readonly VersionRow[] }[]
}

/** Null where there is one version only. */
export function versionsView(
  versions: readonly SavedEntry[],
  given: { readonly id: string; readonly timeZone: string; readonly currency: string },
): VersionsView | null {
  if (versions.length < 2) return null
  const name = (n: number) => `Version ${n + 1}`
  return {
    list: versions.map((one, n) => {
      const twin = versions.findIndex((other, at) => at < n && differences(other, one, given).length === 0)
      return {
        name: name(n),
        href: `/entries/${one.id}`,
        recorded: `${instantWords(one.recordedAt, given.timeZone)}, ${one.author}`,
        here: one.id === given.id,
        same: twin < 0 ? '' : `says the same as version ${twin + 1}`,
      }
    }),
    steps: versions
      .slice(1)
      .map((one, n) => ({ from: name(n), to: name(n + 1), rows: differences(versions[n] as SavedEntry, one, given) })),
  }
}

/** What differs, in words; nothing where both say the same. */
export function differences(before: SavedEntry, after: SavedEntry, given: { readonly currency: string }): readonly VersionRow[] {
  const [was, is] = [fieldsOf(before, given.currency), fieldsOf(after, given.currency)]
  const fields = was.flatMap(({ label, value }, n): VersionRow[] => {
    const now = is[n]?.value ?? ''
    return value === now
      ? []
      : [{ label, was: value, is: now, how: value === NOT_SAID ? 'added' : now === NOT_SAID ? 'left out' : 'changed' }]
  })
  const lost = rest(before, after).map((says) => ({ label: 'What was done', was: says, is: '–', how: 'left out' }))
  const gained = rest(after, before).map((says) => ({ label: 'What was done', was: '–', is: says, how: 'added' }))
  return [...fields, ...lost, ...gained]
}

const NOT_SAID = 'not said'

function fieldsOf(entry: SavedEntry, currency: string): readonly { readonly label: string; readonly value: string }[] {
  return [
    { label: 'Title', value: entry.title },
    { label: 'When', value: dateWords(entry.effectiveOn) },
    { label: 'Odometer', value: entry.odometer_km === null ? NOT_SAID : `${entry.odometer_km} km` },
    { label: 'Cost', value: entry.cost_minor === null ? NOT_SAID : moneyWords(entry.cost_minor, currency) },
    { label: 'In words', value: entry.text || NOT_SAID },
  ]
}

/** Sentences of the one entry's changes that the other does not have. */
function rest(one: SavedEntry, other: SavedEntry): readonly string[] {
  const others = other.changes.map((change) => JSON.stringify(change))
  return one.changes.flatMap((change, n) => {
    const at = others.indexOf(JSON.stringify(change))
    if (at < 0) return [one.sentences[n] ?? change.kind]
    others.splice(at, 1)
    return []
  })
}
