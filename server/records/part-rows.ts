/** Reads parts with their latest revision. */
import { createHash } from 'node:crypto'
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import type { Grade, Part, Ratings } from './engine-types.ts'
import { Lately } from './lately.ts'

export type PartRevision = {
  readonly id: string
  readonly name: string
  readonly ratings: Ratings
  readonly evidence: Readonly<Record<string, Grade>>
  readonly notes: string
  readonly recordedAt: string
}
export type PartRow = Part & { readonly id: string; readonly recordedAt: string; readonly revisions: readonly PartRevision[] }

/**
 * Parts by id, each read when it is asked for, oldest revision first. To walk over all of them reads all of them, in the order recorded.
 * Made for one question: it does not see what is recorded after.
 */
export function partsById(db: Db, actor: Actor): ReadonlyMap<string, PartRow> {
  return new PartsOnAsk(db, actor)
}

/** Parts asked for lately, as long as no part has been revised since. */
type Held = { readonly last: string; readonly parts: Lately<PartRow> }
const held = new WeakMap<Db, Held>()
const mostParts = 2000

function heldParts(db: Db): Lately<PartRow> {
  const last = lastRevision(db)
  const before = held.get(db)
  if (before?.last === last) return before.parts
  const parts = new Lately<PartRow>(mostParts)
  held.set(db, { last, parts })
  return parts
}

class PartsOnAsk implements ReadonlyMap<string, PartRow> {
  readonly #db: Db
  readonly #actor: Actor
  readonly #lately: Lately<PartRow>
  readonly #known = new Map<string, PartRow>()
  #whole: ReadonlyMap<string, PartRow> | null = null

  constructor(db: Db, actor: Actor) {
    this.#db = db
    this.#actor = actor
    this.#lately = heldParts(db)
  }

  get(id: string): PartRow | undefined {
    const known = this.#known.get(id) ?? this.#whole?.get(id) ?? this.#readOne(id)
    if (known) this.#known.set(id, known)
    return known
  }

  #readOne(id: string): PartRow | undefined {
    const key = `${this.#actor.householdId} ${id}`
    const part = this.#lately.get(key) ?? readParts(this.#db, this.#actor, id).get(id)
    if (part) this.#lately.set(key, part, part.revisions.length)
    return part
  }

  has(id: string): boolean {
    return this.get(id) !== undefined
  }

  get size(): number {
    return this.#all().size
  }

  [Symbol.iterator](): MapIterator<[string, PartRow]> {
    return this.#all()[Symbol.iterator]()
  }

  entries(): MapIterator<[string, PartRow]> {
    return this.#all().entries()
  }

  keys(): MapIterator<string> {
    return this.#all().keys()
  }

  values(): MapIterator<PartRow> {
    return this.#all().values()
  }

  forEach(each: (part: PartRow, id: string, all: ReadonlyMap<string, PartRow>) => void): void {
    for (const [id, part] of this) each(part, id, this)
  }

  #all(): ReadonlyMap<string, PartRow> {
    this.#whole ??= readParts(this.#db, this.#actor)
    return this.#whole
  }
}

export type NamedPart = { readonly id: string; readonly kind: string; readonly name: string; readonly notes: string }

const kept = new WeakMap<Db, Lately<{ readonly last: string; readonly names: readonly NamedPart[] }>>()
const mostNames = 50_000

const { compare } = new Intl.Collator('en')

/** The order of parts in lists: by name, of one name the one made first. */
export function byNameThenId(one: Pick<NamedPart, 'id' | 'name'>, other: Pick<NamedPart, 'id' | 'name'>): number {
  return compare(one.name, other.name) || (one.id < other.id ? -1 : one.id > other.id ? 1 : 0)
}

/** The latest name of every part, by name; nothing of its figures. Kept in memory until any part is revised. */
export function partNames(db: Db, actor: Actor): readonly NamedPart[] {
  const mine = kept.get(db) ?? new Lately(mostNames)
  kept.set(db, mine)
  const last = lastRevision(db)
  const before = mine.get(actor.householdId)
  if (before?.last === last) return before.names
  const sql = `SELECT p.id, p.kind, r.name, r.notes FROM part_revisions r JOIN parts p ON p.id = r.part_id AND p.household_id = r.household_id
    WHERE r.household_id = ? AND r.rowid = (SELECT max(l.rowid) FROM part_revisions l WHERE l.part_id = r.part_id) ORDER BY p.rowid`
  const names = db.$client.prepare(sql).all(actor.householdId) as NamedPart[]
  names.sort(byNameThenId)
  mine.set(actor.householdId, { last, names }, names.length)
  return names
}

/** After a transaction that came to nothing. */
export function forgetPartNames(db: Db): void {
  kept.delete(db)
  held.delete(db)
}

/** The revision recorded last, of whatever part: another one whenever a part is added or revised, also where the one before came to nothing. */
export function lastRevision(db: Db): string {
  return String(db.$client.prepare('SELECT id FROM part_revisions ORDER BY rowid DESC LIMIT 1').pluck().get() ?? '')
}

/** Of the revisions now in force of these parts. */
export function digestOfParts(rows: ReadonlyMap<string, PartRow>, ids: readonly string[]): string {
  const hash = createHash('sha256')
  for (const id of [...ids].sort()) hash.update(`${id} ${rows.get(id)?.revisions.at(-1)?.id ?? ''}\n`)
  return hash.digest('hex')
}

type Read = Omit<PartRevision, 'ratings' | 'evidence'> & {
  readonly part: string
  readonly kind: string
  readonly partRecordedAt: string
  readonly ratings: string
  readonly evidence: string
}

/** All parts of the household, or one. The index is named, because the household's own names every part. */
function readParts(db: Db, actor: Actor, id?: string): ReadonlyMap<string, PartRow> {
  const columns =
    'p.id AS part, p.kind, p.recorded_at AS partRecordedAt, r.id, r.name, r.notes, r.recorded_at AS recordedAt, r.ratings, r.evidence'
  const own = 'r.household_id = ? AND p.household_id = r.household_id'
  const found = db.$client
    .prepare(
      id === undefined
        ? `SELECT ${columns} FROM part_revisions r JOIN parts p ON p.id = r.part_id WHERE ${own} ORDER BY r.rowid`
        : `SELECT ${columns} FROM part_revisions r INDEXED BY part_revisions_by_part CROSS JOIN parts p ON p.id = r.part_id
           WHERE r.part_id = ? AND ${own} ORDER BY +r.rowid`,
    )
    .all(...(id === undefined ? [] : [id]), actor.householdId) as Read[]
  const rows = new Map<string, PartRow>()
  for (const { part, kind, partRecordedAt, ...revision } of found) {
    const next: PartRevision = {
      ...revision,
      ratings: JSON.parse(revision.ratings) as Ratings,
      evidence: JSON.parse(revision.evidence) as Record<string, Grade>,
    }
    const revisions = [...(rows.get(part)?.revisions ?? []), next]
    const { name, ratings, evidence } = next
    rows.set(part, { key: part, id: part, kind, name, ratings, evidence, recordedAt: partRecordedAt, revisions })
  }
  return rows
}
