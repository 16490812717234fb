/** What each entry says was done, in the journal's order. Sentences speak of components by the names they had. */
import { changeKind } from './changes/index.ts'
import { noteName } from './component-name.ts'
import type { Actor, Change } from './contract.ts'
import type { Db } from './database.ts'
import { type EntryRow, journalOf } from './entry-rows.ts'
import { partsById } from './part-rows.ts'

export type ToldEntry = {
  readonly row: EntryRow
  readonly sentences: readonly string[]
  /** names in force right after the entry; shared by all of them, so ask while walking */
  readonly nameOf: (component: string) => string
}

export function* toldEntries(db: Db, actor: Actor, vehicleId: string): Generator<ToldEntry> {
  const names = new Map<string, string>()
  const parts = partsById(db, actor)
  const nameOf = (key: string): string => names.get(key) ?? key
  const name = { component: nameOf, part: (id: string) => parts.get(id)?.name ?? 'a part' }
  for (const row of journalOf(db, actor, vehicleId).rows) {
    const sentences: string[] = []
    for (const { kind, ...payload } of row.changes) {
      sentences.push(changeKind(kind)?.sentence(payload, name) ?? kind)
      noteName(names, { kind, ...payload } as Change)
    }
    yield { row, sentences, nameOf }
  }
}
