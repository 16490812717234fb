/** What each entry says was done, in the journal's order. Sentences speak of components by the names they had. */
import { changeKind, wordKinds } from './changes/index.ts'
import { noteName } from './component-name.ts'
import type { Actor, Change } from './contract.ts'
import type { Db } from './database.ts'
import { type EntryRow, journalOf, mostJournalRows, type OutlineRow, outlineOf, type Some, weightOfRows, wholeRows } from './entry-rows.ts'
import { Lately } from './lately.ts'
import { lastRevision, partsById } from './part-rows.ts'

export type ToldEntry = {
  readonly row: EntryRow
  readonly sentences: readonly string[]
  /** names in force right after the entry */
  readonly nameOf: (component: string) => string
}

/** Of every entry, also withdrawn and replaced ones. Kept in memory: only what is new, and what comes after it, is told anew. */
export function toldEntries(db: Db, actor: Actor, vehicleId: string): readonly ToldEntry[] {
  return tellingOf(db, actor, vehicleId).told
}

/** One of them, of which no more is read than it says and the names it speaks of. */
export function toldEntry(db: Db, actor: Actor, given: { readonly vehicleId: string; readonly entryId: string }): ToldEntry | undefined {
  return tellSome(db, actor, { vehicleId: given.vehicleId, ids: [given.entryId] })[0]
}

/** The same of a few, in the order of the ids. */
export function tellSome(db: Db, actor: Actor, given: Some): readonly ToldEntry[] {
  const outline = given.outline ?? outlineOf(db, actor, given.vehicleId)
  const { names, places } = namesIn(outline.rows)
  const parts = partsById(db, actor)
  return wholeRows(db, actor, { ...given, outline }).map((row) => {
    const at = places.get(row.id) as number
    let named = 0
    const sentences = row.changes.map((change) => {
      const says = sentenceOf(change, { component: names.after(at, named), parts })
      if (!wordKinds.includes(change.kind)) named += 1
      return says
    })
    return { row, sentences, nameOf: names.after(at) }
  })
}

/** Every name that an entry which stands has given a component, in their order. */
export function namesGiven(db: Db, actor: Actor, vehicleId: string): ReadonlyMap<string, ReadonlySet<string>> {
  const { rows, live } = outlineOf(db, actor, vehicleId)
  const { names, places } = namesIn(rows)
  const given = new Map<string, Set<string>>()
  for (const row of live) {
    const nameOf = names.after(places.get(row.id) as number)
    for (const key of row.changes.flatMap((change) => namedKey(change) ?? []))
      given.set(key, (given.get(key) ?? new Set()).add(nameOf(key)))
  }
  return given
}

/** The component that a change gives a name. */
function namedKey(change: Change): string | null {
  if (change.kind === 'fitted') return change.component.key
  if (change.kind === 'renamed') return change.component
  return change.kind === 'described' && change.component?.name !== undefined ? change.component.key : null
}

const namesKept = new WeakMap<readonly OutlineRow[], { readonly names: Names; readonly places: ReadonlyMap<string, number> }>()

function namesIn(rows: readonly OutlineRow[]): { readonly names: Names; readonly places: ReadonlyMap<string, number> } {
  const before = namesKept.get(rows)
  if (before) return before
  const names = new Names()
  for (const [at, row] of rows.entries())
    for (const [position, change] of row.changes.entries())
      names.note(change, { at, position, stands: row.withdrawnBy === null && row.replacedBy === null })
  const made = { names, places: new Map(rows.map((row, at) => [row.id, at])) }
  namesKept.set(rows, made)
  return made
}

function sentenceOf(
  { kind, ...payload }: Change,
  given: { readonly component: (key: string) => string; readonly parts: ReturnType<typeof partsById> },
): string {
  const part = (id: string) => given.parts.get(id)?.name ?? 'a part'
  return changeKind(kind)?.sentence(payload, { component: given.component, part }) ?? kind
}

type Telling = { readonly rows: readonly EntryRow[]; readonly revision: string; readonly told: readonly ToldEntry[]; readonly names: Names }
const kept = new WeakMap<Db, Lately<Telling>>()

function tellingOf(db: Db, actor: Actor, vehicleId: string): Telling {
  const key = `${actor.householdId} ${vehicleId}`
  const mine = kept.get(db) ?? new Lately<Telling>(mostJournalRows)
  kept.set(db, mine)
  const { rows } = journalOf(db, actor, vehicleId)
  const revision = lastRevision(db)
  const before = mine.get(key)
  if (before?.rows === rows && before.revision === revision) return before
  const same = before?.revision === revision ? before : undefined
  const telling = tell(db, actor, { rows, revision, same })
  mine.set(key, telling, weightOfRows(rows))
  return telling
}

/** `same` holds what is told already where a row is the very one it was; sentences name parts as they are called now. */
function tell(
  db: Db,
  actor: Actor,
  given: { readonly rows: readonly EntryRow[]; readonly revision: string; readonly same: Telling | undefined },
): Telling {
  const { rows, revision, same } = given
  let from = 0
  while (same && from < same.rows.length && same.rows[from] === rows[from]) from += 1
  const names = same?.names ?? new Names()
  names.cut(from)
  const told = same?.told.slice(0, from) ?? []
  const parts = partsById(db, actor)
  for (const [at, row] of rows.entries()) {
    if (at < from) continue
    const nameOf = names.after(at)
    const sentences: string[] = []
    for (const [position, change] of row.changes.entries()) {
      sentences.push(sentenceOf(change, { component: nameOf, parts }))
      names.note(change, { at, position, stands: row.withdrawnBy === null && row.replacedBy === null })
    }
    told.push({ row, sentences, nameOf })
  }
  return { rows, revision, told, names }
}

/** `at`: the row's place in the journal; `position`: the change's in its row. */
type Naming = { readonly at: number; readonly position: number; readonly name: string; readonly stands: boolean }

/**
 * What every component was called after each row of a journal. What was undone names only what nothing else names. Of whole journals
 * there is one for all tellings of a vehicle, so that what was told early holds on to nothing but this.
 */
class Names {
  readonly #given = new Map<string, readonly Naming[]>()

  note(change: Change, given: Omit<Naming, 'name'>): void {
    const found = new Map<string, string>()
    noteName(found, change)
    for (const [key, name] of found) this.#given.set(key, [...(this.#given.get(key) ?? []), { ...given, name }])
  }

  /** Names in force after the row at that place, or after so many of its changes; the key of what has none. */
  after(at: number, count = Number.POSITIVE_INFINITY): (key: string) => string {
    const isBefore = (one: Naming) => one.at < at || (one.at === at && one.position < count)
    return (key) => {
      const given = this.#given.get(key)
      const last = given?.findLast((one) => one.stands && isBefore(one)) ?? given?.findLast(isBefore)
      return last?.name ?? key
    }
  }

  /** Forgets what rows from that place on have named. */
  cut(from: number): void {
    for (const [key, given] of this.#given) {
      const rest = given.filter((one) => one.at < from)
      if (rest.length < given.length) this.#given.set(key, rest)
    }
  }
}
