/** Past 200 lines: all that is asked about parts. What is known of a thing one buys; a revision never changes, knowledge is added. */
import { ratingsSchema } from '../document/part-fields.ts'
import { everyKindFields, fieldsOf, partKind } from '../engine/parts/index.ts'
import type { Clock } from './clock.ts'
import type { Actor, Refusal, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { keepDigest } from './digests.ts'
import type { Grade, Part, Ratings } from './engine-types.ts'
import { newId } from './ids.ts'
import { type NamedPart, type PartRevision, type PartRow, partNames, partsById } from './part-rows.ts'
import { revisedMeanwhile } from './part-versions.ts'
import { markStale, missingOf } from './projection.ts'
import { done, refusal, refused } from './refusals.ts'
import { partRevisions, parts } from './schema.ts'
import { keepSearchOfPart } from './search-rows.ts'
import { type Stock, stockOf, stocksOf } from './stock.ts'

export type NewPart = {
  /** the id it is to have, so that the same form sent twice makes one; else a new one */
  readonly id?: string | undefined
  readonly kind: string
  readonly name: string
  readonly ratings: Ratings
  readonly evidence?: Readonly<Record<string, Grade>> | undefined
  readonly notes?: string | undefined
}
export type StoredPart = Part & {
  readonly id: string
  readonly notes: string
  readonly inStock: number
  readonly place: string | null
  readonly recordedAt: string
  readonly revisions: readonly PartRevision[]
}
export type UnknownRating = {
  readonly partId: string
  readonly partName: string
  readonly rating: string
  readonly label: string
  readonly settles: number
}

export function createPart(db: Db, clock: Clock, actor: Actor, part: NewPart): Result<{ id: string }> {
  const faults = faultsOfPart(part)
  if (faults.length > 0) return refused(faults)
  return inTransaction(db, () => {
    if (part.id !== undefined && partsById(db, actor).has(part.id)) return done({ id: part.id })
    const id = part.id ?? newId(clock)
    db.insert(parts)
      .values({ id, householdId: actor.householdId, kind: part.kind, recordedAt: clock.now().toISOString(), recordedBy: actor.personId })
      .run()
    keepDigest(db, 'parts', id)
    addRevision(db, clock, actor, id, part)
    keepSearchOfPart(db, actor, id)
    return done({ id })
  })
}

/** `revision` says everything anew but the kind, which never changes; `basedOn` is the revision it was typed on. Vehicles that hold the part are marked in the same transaction. */
export function revisePart(
  db: Db,
  clock: Clock,
  actor: Actor,
  partId: string,
  revision: Omit<NewPart, 'kind' | 'id'> & { readonly basedOn?: string | undefined },
): Result<{ id: string }> {
  return inTransaction(db, () => {
    const part = partsById(db, actor).get(partId)
    if (!part) return refused([refusal('not-found', 'There is no such part.')])
    const { basedOn, ...said } = revision
    const next = { ...said, kind: part.kind }
    const faults = faultsOfPart(next)
    if (faults.length > 0) return refused(faults)
    const meanwhile = basedOn === undefined ? null : revisedMeanwhile(db, actor, partId, { basedOn, next })
    if (meanwhile === 'same') return done({ id: partId })
    if (meanwhile !== null) return refused([meanwhile])
    addRevision(db, clock, actor, partId, next)
    markStale(db, actor, partId)
    keepSearchOfPart(db, actor, partId)
    return done({ id: partId })
  })
}

export function partOf(db: Db, actor: Actor, id: string): StoredPart | null {
  const row = partsById(db, actor).get(id)
  return row ? stored(row, stockOf(db, actor, id)) : null
}

/** By name; `contains` looks in names and notes. */
export function partsOf(
  db: Db,
  actor: Actor,
  given: { readonly contains?: string | undefined; readonly kind?: string | undefined } = {},
): StoredPart[] {
  const found = namesOf(db, actor, given)
  // Where nearly all are asked for, one reading is quicker than one for each.
  const parts = found.length > 100 ? new Map(partsById(db, actor)) : partsById(db, actor)
  const stock = stocksOf(
    db,
    actor,
    found.map((one) => one.id),
  )
  return found.flatMap(({ id }) => {
    const row = parts.get(id)
    return row ? [stored(row, stock(id))] : []
  })
}

/** Some of them, from the one numbered `from`, and how many there are. */
export function partsFrom(
  db: Db,
  actor: Actor,
  given: { readonly contains?: string | undefined; readonly range: (count: number) => { readonly from: number; readonly most: number } },
): { readonly parts: readonly StoredPart[]; readonly count: number } {
  const found = namesOf(db, actor, given)
  const { from, most } = given.range(found.length)
  const shown = found.slice(from, from + most).map((one) => one.id)
  return { count: found.length, parts: partsNamed(db, actor, shown) }
}

/** These, in their order; one that is not there is left out. */
export function partsNamed(db: Db, actor: Actor, ids: readonly string[]): readonly StoredPart[] {
  const parts = partsById(db, actor)
  const stock = stocksOf(db, actor, ids)
  return ids.flatMap((id) => {
    const row = parts.get(id)
    return row ? [stored(row, stock(id))] : []
  })
}

/** By name; nothing of their figures. */
export function namesOf(
  db: Db,
  actor: Actor,
  given: { readonly contains?: string | undefined; readonly kind?: string | undefined },
): readonly NamedPart[] {
  const wanted = given.contains?.trim().toLowerCase() ?? ''
  return partNames(db, actor)
    .filter((row) => given.kind === undefined || row.kind === given.kind)
    .filter((row) => `${row.name}\n${row.notes}`.toLowerCase().includes(wanted))
}

/** Ratings that findings of today's vehicles miss; `settles` counts the unknown findings that miss nothing else. */
export function unknownRatings(db: Db, actor: Actor): UnknownRating[] {
  const settles = new Map<string, number>()
  for (const missing of missingOf(db, actor))
    for (const one of missing) {
      const rating = `${one.part} ${one.rating}`
      settles.set(rating, (settles.get(rating) ?? 0) + one.settles)
    }
  const parts = new Map(partNames(db, actor).map((part) => [part.id, part]))
  return [...settles]
    .flatMap(([missing, count]) => {
      const [partId = '', rating = ''] = missing.split(' ')
      const part = parts.get(partId)
      return part ? [{ partId, partName: part.name, rating, label: labelOf(part.kind, rating), settles: count }] : []
    })
    .sort((a, b) => b.settles - a.settles || a.partName.localeCompare(b.partName, 'en'))
}

export function faultsOfPart(part: NewPart): readonly Refusal[] {
  const faults: Refusal[] = []
  if (!partKind(part.kind)) return [refusal('not-valid', `There is no kind of part called "${part.kind}".`, { field: 'kind' })]
  const name = part.name.trim()
  if (name.length < 1 || name.length > 200)
    faults.push(refusal('not-valid', 'Give the part a name of 1 to 200 letters.', { field: 'name' }))
  if ((part.notes ?? '').length > 5000) faults.push(refusal('not-valid', 'Keep the notes under 5000 letters.', { field: 'notes' }))
  const read = ratingsSchema(part.kind).safeParse(part.ratings)
  for (const issue of read.error?.issues ?? []) {
    faults.push(
      refusal('not-valid', `${labelOf(part.kind, String(issue.path[0] ?? ''))}: ${issue.message}`, {
        field: `ratings.${issue.path.join('.')}`,
      }),
    )
  }
  const grades = ['datasheet', 'marked', 'measured', 'typical', 'assumed']
  for (const [rating, grade] of Object.entries(part.evidence ?? {})) {
    if (!grades.includes(grade)) faults.push(refusal('not-valid', `"${grade}" is no grade of evidence.`, { field: `evidence.${rating}` }))
    if (!Object.hasOwn(part.ratings, rating))
      faults.push(refusal('not-valid', `There is evidence for ${rating}, which has no figure.`, { field: `evidence.${rating}` }))
  }
  return faults
}

function addRevision(db: Db, clock: Clock, actor: Actor, partId: string, part: NewPart): void {
  const id = newId(clock)
  db.insert(partRevisions)
    .values({
      id,
      householdId: actor.householdId,
      partId,
      name: part.name.trim(),
      v: 1,
      ratings: JSON.stringify(part.ratings),
      evidence: JSON.stringify(part.evidence ?? {}),
      notes: part.notes ?? '',
      recordedAt: clock.now().toISOString(),
      recordedBy: actor.personId,
    })
    .run()
  keepDigest(db, 'part_revisions', id)
}

function stored(row: PartRow, stock: Stock): StoredPart {
  return { ...row, notes: row.revisions.at(-1)?.notes ?? '', inStock: stock.inStock, place: stock.place }
}

function labelOf(kind: string, rating: string): string {
  return [...fieldsOf(kind), ...everyKindFields].find((field) => field.name === rating)?.label ?? rating
}
