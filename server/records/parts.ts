/** Past 200 lines: all that is asked about parts. What is known of a thing one buys; a revision never changes, knowledge is added. */
import { eq } from 'drizzle-orm'
import { ratingsSchema } from '../document/part-fields.ts'
import { everyKindFields, fieldsOf, partKind } from '../engine/parts/index.ts'
import type { Clock } from './clock.ts'
import { componentName } from './component-name.ts'
import type { Actor, Refusal, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import type { Grade, Part, Ratings, VehicleDocument } from './engine-types.ts'
import { liveEntries } from './entry-rows.ts'
import { newId } from './ids.ts'
import { type PartRevision, type PartRow, partsById } from './part-rows.ts'
import { revisedMeanwhile } from './part-versions.ts'
import { markStale, reportOn } from './projection.ts'
import { done, refusal, refused } from './refusals.ts'
import { partRevisions, parts, vehicles } from './schema.ts'
import { stateOn } from './state.ts'
import { stockOf } from './stock.ts'

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
export type Fitting = {
  readonly vehicleId: string
  readonly vehicleName: string
  readonly component: string
  readonly componentName: string
  readonly from: string
  readonly until: string | null
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
    addRevision(db, clock, actor, id, part)
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
    return done({ id: partId })
  })
}

export function partOf(db: Db, actor: Actor, id: string): StoredPart | null {
  const row = partsById(db, actor).get(id)
  return row ? stored(db, actor, row) : null
}

/** By name; `contains` looks in names and notes. */
export function partsOf(
  db: Db,
  actor: Actor,
  given: { readonly contains?: string | undefined; readonly kind?: string | undefined } = {},
): StoredPart[] {
  const wanted = given.contains?.trim().toLowerCase() ?? ''
  return [...partsById(db, actor).values()]
    .filter((row) => given.kind === undefined || row.kind === given.kind)
    .filter((row) => `${row.name}\n${row.revisions.at(-1)?.notes ?? ''}`.toLowerCase().includes(wanted))
    .sort((a, b) => a.name.localeCompare(b.name, 'en'))
    .map((row) => stored(db, actor, row))
}

/** Every place that held the part, in every vehicle, latest first. */
export function whereFitted(db: Db, actor: Actor, partId: string): Fitting[] {
  const mine = db.select({ id: vehicles.id }).from(vehicles).where(eq(vehicles.householdId, actor.householdId)).all()
  return mine.flatMap(({ id }) => fittingsIn(db, actor, id, partId)).sort((a, b) => (a.from < b.from ? 1 : a.from > b.from ? -1 : 0))
}

/** Ratings that findings of today's vehicles miss; `settles` counts the unknown findings that miss nothing else. */
export function unknownRatings(db: Db, actor: Actor): UnknownRating[] {
  const rows = partsById(db, actor)
  const found = new Map<string, UnknownRating>()
  const mine = db.select({ id: vehicles.id }).from(vehicles).where(eq(vehicles.householdId, actor.householdId)).all()
  for (const { id } of mine) {
    const { document, report } = reportOn(db, actor, id)
    for (const finding of report.findings) {
      if (finding.verdict !== 'unknown') continue
      const missing = [...new Set(finding.missing.map((name) => placed(name, finding.component, document, rows)))]
      for (const rating of missing) {
        if (rating === null) continue
        const [partId = '', name = ''] = rating.split(' ')
        const part = rows.get(partId)
        if (!part) continue
        const before = found.get(rating)
        const settles = (before?.settles ?? 0) + (missing.length === 1 ? 1 : 0)
        found.set(rating, { partId, partName: part.name, rating: name, label: labelOf(part.kind, name), settles })
      }
    }
  }
  return [...found.values()].sort((a, b) => b.settles - a.settles || a.partName.localeCompare(b.partName, 'en'))
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
  db.insert(partRevisions)
    .values({
      id: newId(clock),
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
}

function stored(db: Db, actor: Actor, row: PartRow): StoredPart {
  const { inStock, place } = stockOf(db, actor, row.id)
  return { ...row, notes: row.revisions.at(-1)?.notes ?? '', inStock, place }
}

function fittingsIn(db: Db, actor: Actor, vehicleId: string, partId: string): Fitting[] {
  const entries = liveEntries(db, actor, vehicleId)
  const vehicleName = stateOn(db, actor, vehicleId).vehicle.name
  const all: { component: string; from: string; until: string | null }[] = []
  const open = new Map<string, (typeof all)[number]>()
  const close = (component: string, until: string): void => {
    const fitting = open.get(component)
    if (fitting) fitting.until = until
    open.delete(component)
  }
  const start = (component: string, from: string): void => {
    const fitting = { component, from, until: null }
    open.set(component, fitting)
    all.push(fitting)
  }
  for (const { effectiveOn, changes } of entries) {
    for (const change of changes) {
      if (change.kind === 'removed') close(change.component, effectiveOn)
      if (change.kind === 'swapped') {
        close(change.component, effectiveOn)
        if (change.part === partId) start(change.component, effectiveOn)
      }
      if (change.kind === 'fitted' && change.component.part === partId) start(change.component.key, effectiveOn)
    }
  }
  return all.map((fitting) => ({ ...fitting, vehicleId, vehicleName, componentName: componentName(entries, fitting.component) }))
}

/** What is missing as "part rating" where it is a rating of some component's part; anything else that is missing as null. */
function placed(missing: string, judged: string, document: VehicleDocument, rows: ReadonlyMap<string, PartRow>): string | null {
  const other = document.components.find((one) => missing.endsWith(` of ${one.name}`))
  const [key = '', name = ''] = missing.split('.')
  const byKey = document.components.find((one) => one.key === key)
  const component = byKey ?? other ?? document.components.find((one) => one.key === judged)
  const words = other ? missing.slice(0, -` of ${other.name}`.length) : missing
  const rating = byKey ? name : ratingInWords[words]
  const part = rows.get(component?.part ?? '')
  if (!part || rating === undefined || !fieldNames(part.kind).has(rating)) return null
  return `${part.id} ${rating}`
}

/** The check names what it misses in words; these are the ratings they mean. */
const ratingInWords: Readonly<Record<string, string>> = {
  'rated current': 'rated_A',
  'rated voltage': 'rated_V',
  'carry current of the make contact': 'make_A',
  'carry current of the break contact': 'break_A',
  'cross-section': 'crossSection_mm2',
  'insulation temperature rating': 'insulation_degC',
  'rating of the whole': 'total_A',
  'rating of one way': 'way_A',
  'set-point': 'setPoint_V',
  output: 'output_A',
  'output at idle': 'idleOutput_A',
  current: 'current_A',
}

function fieldNames(kind: string): ReadonlySet<string> {
  return new Set([...everyKindFields, ...fieldsOf(kind)].map((field) => field.name))
}

function labelOf(kind: string, rating: string): string {
  return [...fieldsOf(kind), ...everyKindFields].find((field) => field.name === rating)?.label ?? rating
}
