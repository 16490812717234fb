/**
 * Judges every record of an archive: by its table, by what its JSON may hold, and by the records it names, all of which have to be in the
 * archive too. The first that is not right is named with its file and line. Nothing is kept of a row but what later ones are judged by.
 */
import { setImmediate } from 'node:timers/promises'
import { linesOf, rowOf, rowsOfFile } from './archive-lines.ts'
import type { OpenedArchive } from './archive-read.ts'
import { type ArchiveTable, archiveTables, fileOf, type Row } from './archive-tables.ts'
import { changeKind } from './changes/index.ts'
import type { Clock } from './clock.ts'
import type { Result } from './contract.ts'
import { furthestEast } from './journal.ts'
import { faultsOfPart } from './parts.ts'
import { photoName } from './photo-path.ts'
import { done, refusal, refused } from './refusals.ts'

/** Rows are read from their file each time they are asked for. */
export type Tables = ReadonlyMap<ArchiveTable, Iterable<Row>>

const ROWS_a_turn = 500

export async function checkTables(archive: OpenedArchive, clock: Clock, signal?: AbortSignal): Promise<Result<Tables>> {
  const found = new Map<ArchiveTable, Iterable<Row>>()
  const check = new Check(archive, furthestEast(clock))
  for (const table of archiveTables) {
    const name = fileOf(table.name)
    const said = archive.manifest.files[name]
    const path = archive.pathOf(name)
    found.set(table, said ? { [Symbol.iterator]: () => rowsOfFile(path) } : [])
    if (!said) continue
    let line = 0
    for (const text of linesOf(path)) {
      line++
      const row = text === null ? 'this is not UTF-8 text, or too long' : rowOf(table, text)
      const fault = typeof row === 'string' ? row : check.faultOf(table, row, line)
      if (fault !== null) return faulty(name, line, fault)
      if (line % ROWS_a_turn === 0) await setImmediate()
      signal?.throwIfAborted()
    }
    if (line !== (said.rows ?? line))
      return refused([refusal('archive-not-taken', `${name} has ${line} records; the manifest says ${said.rows}. Nothing was taken in.`)])
  }
  const last = check.faultAtLast()
  return last ? faulty(fileOf(last.table), last.line, last.says) : done(found)
}

function faulty(name: string, line: number, says: string): Result<never> {
  return refused([refusal('archive-not-taken', `${name}, line ${line}: ${says}. Nothing was taken in.`)])
}

type Entry = {
  readonly line: number
  readonly vehicle: string
  readonly place: string
  readonly corrects: string | null
  readonly correction: string | null
}

class Check {
  readonly #archive: OpenedArchive
  readonly #missing: ReadonlySet<string>
  readonly #latest: string
  readonly #ids = new Map<string, Set<string>>()
  readonly #entries = new Map<string, Entry>()
  readonly #parts = new Map<string, { readonly line: number; readonly kind: string }>()
  readonly #revised = new Set<string>()

  constructor(archive: OpenedArchive, latest: string) {
    this.#archive = archive
    this.#missing = new Set(archive.manifest.missing)
    this.#latest = latest
  }

  faultOf(table: ArchiveTable, row: Row, line: number): string | null {
    const key = table.key.map((name) => String(row[name])).join(' ')
    const ids = this.#ids.get(table.name) ?? new Set<string>()
    this.#ids.set(table.name, ids)
    if (ids.has(key)) return 'it is in the archive twice'
    ids.add(key)
    for (const [name, target] of Object.entries(table.refs)) {
      const to = row[name]
      // Entries name entries that may come after them: these are looked at last.
      if (to === null || target === table.name || this.#ids.get(target)?.has(String(to))) continue
      return `${name} names a record of ${target} that is not in the archive`
    }
    switch (table.name) {
      case 'parts':
        this.#parts.set(key, { line, kind: String(row.kind) })
        return null
      case 'part_revisions':
        return this.#ofRevision(row)
      case 'entries':
        return this.#ofEntry(row, line)
      case 'changes':
        return this.#ofChange(row)
      case 'stock_moves':
        return row.by_count === 0 ? 'by_count: it moves nothing' : null
      case 'photos':
        return this.#ofPhoto(row)
      default:
        return null
    }
  }

  /** What can be said only once all of it was read. */
  faultAtLast(): { readonly table: string; readonly line: number; readonly says: string } | null {
    for (const [id, part] of this.#parts)
      if (!this.#revised.has(id)) return { table: 'parts', line: part.line, says: 'part_revisions says nothing of this part' }
    for (const [id, entry] of this.#entries) {
      const says = this.#ofCorrection(id, entry)
      if (says !== null) return { table: 'entries', line: entry.line, says }
    }
    return null
  }

  #ofRevision(row: Row): string | null {
    this.#revised.add(String(row.part_id))
    const part = { name: String(row.name), ratings: row.ratings as never, evidence: row.evidence as never, notes: String(row.notes) }
    return faultsOfPart({ kind: this.#parts.get(String(row.part_id))?.kind ?? '', ...part })[0]?.sentence.replace(/\.$/, '') ?? null
  }

  #ofEntry(row: Row, line: number): string | null {
    const [corrects, correction] = [row.corrects_id as string | null, row.correction as string | null]
    if ((corrects === null) !== (correction === null)) return 'corrects_id and correction are said together or not at all'
    if (String(row.effective_on) > this.#latest) return `its day, ${row.effective_on}, has not come by this machine’s clock`
    this.#entries.set(String(row.id), { line, vehicle: String(row.vehicle_id), place: String(row.place_id), corrects, correction })
    return null
  }

  #ofChange(row: Row): string | null {
    if (this.#entries.get(String(row.entry_id))?.vehicle !== row.vehicle_id) return 'it names another vehicle than its entry'
    const kind = changeKind(String(row.kind))
    if (!kind) return `there is no kind of change called “${String(row.kind).slice(0, 40)}”`
    if (Number(row.v) > kind.v) return 'it was written by a newer program'
    const read = kind.payload.safeParse(row.payload)
    return read.success ? null : `payload: ${read.error.issues[0]?.path.join('.')} ${read.error.issues[0]?.message}`
  }

  #ofPhoto(row: Row): string | null {
    const name = photoName({ sha256: String(row.sha256), type: String(row.type) })
    const said = this.#archive.manifest.files[name]
    if (!said && !this.#missing.has(name)) return `${name} is neither in the archive nor said to be missing`
    if (said && (said.sha256 !== row.sha256 || said.bytes !== row.bytes)) return `${name} is not the original that this record says`
    if (row.entry_place_id === null) return null
    const entry = this.#entries.get(String(row.entry_place_id))
    if (entry?.place !== row.entry_place_id) return 'entry_place_id names a later version of an entry'
    return row.vehicle_id === entry?.vehicle ? null : 'it names another vehicle than its entry'
  }

  #ofCorrection(id: string, entry: Entry): string | null {
    const missing = (name: string) => `${name} names a record of entries that is not in the archive`
    if (!this.#entries.has(entry.place)) return missing('place_id')
    if (entry.corrects === null) return entry.place === id ? null : 'place_id: an entry that corrects none has its own place'
    const target = this.#entries.get(entry.corrects)
    if (!target) return missing('corrects_id')
    if (target.vehicle !== entry.vehicle) return 'corrects_id names an entry of another vehicle'
    if (this.#goesRound(id)) return 'corrects_id leads back to this entry, in a circle'
    if (entry.correction === 'withdrawn') return entry.place === id ? null : 'place_id: a withdrawal has its own place'
    if (target.correction === 'withdrawn') return 'corrects_id names a withdrawal, which has no other version'
    return entry.place === target.place ? null : 'place_id is not that of the entry it replaces'
  }

  #goesRound(id: string): boolean {
    const seen = new Set<string>()
    for (let at: string | null | undefined = id; at; at = this.#entries.get(at)?.corrects) {
      if (seen.has(at)) return true
      seen.add(at)
    }
    return false
  }
}
