/** What each entry says was done, in the journal's order. Sentences speak of components by the names they had. */
import { changeKind } from './changes/index.ts'
import { noteName } from './component-name.ts'
import type { Actor, Change } from './contract.ts'
import type { Db } from './database.ts'
import { type EntryRow, journalOf, mostJournalRows, weightOfRows } from './entry-rows.ts'
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

export function toldEntry(db: Db, actor: Actor, given: { readonly vehicleId: string; readonly entryId: string }): ToldEntry | undefined {
  return toldEntries(db, actor, given.vehicleId).findLast(({ row }) => row.id === given.entryId)
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
  const part = (id: string) => parts.get(id)?.name ?? 'a part'
  for (const [at, row] of rows.entries()) {
    if (at < from) continue
    const nameOf = names.after(at)
    const sentences: string[] = []
    for (const { kind, ...payload } of row.changes) {
      sentences.push(changeKind(kind)?.sentence(payload, { component: nameOf, part }) ?? kind)
      names.note({ kind, ...payload } as Change, { at, stands: row.withdrawnBy === null && row.replacedBy === null })
    }
    told.push({ row, sentences, nameOf })
  }
  return { rows, revision, told, names }
}

type Naming = { readonly at: number; readonly name: string; readonly stands: boolean }

/**
 * What every component was called after each row of a journal. What was undone names only what nothing else names. One for all tellings
 * of a vehicle, so that what was told early holds on to nothing but this.
 */
class Names {
  readonly #given = new Map<string, readonly Naming[]>()

  note(change: Change, given: { readonly at: number; readonly stands: boolean }): void {
    const found = new Map<string, string>()
    noteName(found, change)
    for (const [key, name] of found) this.#given.set(key, [...(this.#given.get(key) ?? []), { ...given, name }])
  }

  /** Names in force after the row at that place; the key of what has none. */
  after(at: number): (key: string) => string {
    return (key) => {
      const given = this.#given.get(key)
      const last = given?.findLast((one) => one.stands && one.at <= at) ?? given?.findLast((one) => one.at <= at)
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
