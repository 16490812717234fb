/** Past 200 lines: the only writer of entries. Everything that appends, tries, withdraws or corrects goes through `plan`. */
import { and, eq } from 'drizzle-orm'
import { z } from 'zod'
import { compareFindings } from '../engine/compare.ts'
import { CHECK_VERSION, checkVehicle } from '../engine/rules/check.ts'
import { type Chain, countRecorded, type Expanded, expandChain, type Insert, insertInLine, type ProvisionalPart } from './chain.ts'
import { day, figure } from './changes/fields.ts'
import { changeKind } from './changes/index.ts'
import { componentOf } from './changes/wiring.ts'
import type { Clock } from './clock.ts'
import type { Actor, Change, NewEntry, Refusal, Result, SavedEntry, Shown } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { keepDigest } from './digests.ts'
import { documentOf } from './document-of.ts'
import type { Finding, Part, Report, VehicleDocument } from './engine-types.ts'
import {
  type EntryRow,
  entriesThatName,
  inOrder,
  kindsOfParts,
  type OutlineRow,
  outlineOf,
  type Some,
  shownOf,
  vehicleRow,
  wholeRows,
} from './entry-rows.ts'
import { newId } from './ids.ts'
import { partsById } from './part-rows.ts'
import { createPart, faultsOfPart } from './parts.ts'
import { keepHead, reportOn } from './projection.ts'
import { done, refusal, refused } from './refusals.ts'
import { takeFromRest } from './rest.ts'
import { changes, entries } from './schema.ts'
import { keepSearchOfEntry, keepSearchOfLast, keepSearchOfVehicle } from './search-rows.ts'
import { type ToldEntry, tellSome, toldEntry } from './sentences.ts'
import { fold, type State, stateAfter, stateOn } from './state.ts'
import { movesOf, recordMoves } from './stock.ts'
import { someInTurn } from './turns.ts'
import { queueEntry } from './webhooks.ts'

export type Preview = { readonly before: Report; readonly after: Report; readonly document: VehicleDocument }
/** An entry whose changes come from a chain, a cut or a fuse box; `also` are further ones, such as `finished`. */
export type EntryHeading = Omit<NewEntry, 'changes'> & { readonly also?: readonly Change[] | undefined }
export type TriedChain = Preview & {
  readonly changes: readonly Change[]
  readonly newParts: readonly ProvisionalPart[]
  readonly records: { readonly kinds: readonly { readonly kind: string; readonly count: number }[]; readonly joins: number }
}
export type Expand = (given: {
  readonly state: State
  readonly parts: ReadonlyMap<string, Part>
  readonly taken: ReadonlySet<string>
}) => Expanded

export function append(db: Db, clock: Clock, actor: Actor, entry: NewEntry): Result<SavedEntry> {
  const faults = faultsOf(entry, clock)
  if (faults.length > 0) return refused(faults)
  return inTransaction(db, () => {
    const already = savedOnce(db, actor, entry.onceKey)
    if (already) return done(already)
    const planned = plan(db, actor, { vehicleId: entry.vehicleId, entry })
    return planned.ok ? done(store(db, clock, actor, planned.value, { entry })) : planned
  })
}

/** What the entry would do; nothing is stored. */
export function preview(db: Db, actor: Actor, entry: NewEntry): Result<Preview> {
  const faults = faultsOf(entry)
  if (faults.length > 0) return refused(faults)
  const planned = plan(db, actor, { vehicleId: entry.vehicleId, entry })
  return planned.ok ? done({ before: planned.value.before.report, after: planned.value.report, document: planned.value.document }) : planned
}

/** Undoes an entry; withdrawing a withdrawal brings the entry back. Answers the entry as it now stands. */
export function withdraw(db: Db, clock: Clock, actor: Actor, entryId: string, reason = ''): Result<SavedEntry> {
  return inTransaction(db, () => {
    const row = entryRow(db, actor, entryId)
    if (!row) return refused([refusal('not-found', 'There is no such entry.')])
    if (row.withdrawnBy !== null || row.replacedBy !== null) return refused([alreadyCorrected(row)])
    const restores = row.correction === 'withdrawn' ? (row.correctsId ?? undefined) : undefined
    const target = restores === undefined ? row : entryRow(db, actor, restores)
    if (target?.correction === 'withdrawn') return refused([refusal('not-valid', 'Withdraw the entry again instead.')])
    const planned = plan(db, actor, { vehicleId: row.vehicleId, without: restores === undefined ? entryId : undefined, restores })
    if (!planned.ok) return planned
    const heading = {
      vehicleId: row.vehicleId,
      effectiveOn: row.effectiveOn,
      title: restores === undefined ? `Withdrawn: ${row.title}` : `Brought back: ${target?.title}`,
      text: reason,
      changes: [],
    }
    store(db, clock, actor, planned.value, { entry: heading, correctsId: entryId, correction: 'withdrawn' })
    return done(entryOf(db, actor, restores ?? entryId) as SavedEntry)
  })
}

/** Puts `entry` in the place of another; both versions stay readable. */
export function correct(db: Db, clock: Clock, actor: Actor, entryId: string, entry: NewEntry): Result<SavedEntry> {
  const faults = faultsOf(entry, clock)
  if (faults.length > 0) return refused(faults)
  return inTransaction(db, () => {
    const already = savedOnce(db, actor, entry.onceKey)
    if (already) return done(already)
    const row = entryRow(db, actor, entryId)
    if (!row || row.vehicleId !== entry.vehicleId || row.correction === 'withdrawn')
      return refused([refusal('not-found', 'There is no such entry.')])
    if (row.withdrawnBy !== null || row.replacedBy !== null) return refused([alreadyCorrected(row)])
    const planned = plan(db, actor, { vehicleId: row.vehicleId, without: entryId, entry, placeId: row.placeId })
    return planned.ok
      ? done(store(db, clock, actor, planned.value, { entry, correctsId: entryId, correction: 'replaced', placeId: row.placeId }))
      : planned
  })
}

export function recordChain(db: Db, clock: Clock, actor: Actor, given: EntryHeading & { readonly chain: Chain }): Result<SavedEntry> {
  const { chain, ...heading } = given
  return recordExpanded(db, clock, actor, heading, expandingChain(chain))
}

export function previewChain(db: Db, actor: Actor, given: EntryHeading & { readonly chain: Chain }): Result<TriedChain> {
  const { chain, ...heading } = given
  return previewExpanded(db, actor, heading, expandingChain(chain))
}

export function recordInsert(db: Db, clock: Clock, actor: Actor, given: EntryHeading & { readonly insert: Insert }): Result<SavedEntry> {
  const { insert, ...heading } = given
  return recordExpanded(db, clock, actor, heading, (known) => insertInLine({ ...known, insert }))
}

export function previewInsert(db: Db, actor: Actor, given: EntryHeading & { readonly insert: Insert }): Result<TriedChain> {
  const { insert, ...heading } = given
  return previewExpanded(db, actor, heading, (known) => insertInLine({ ...known, insert }))
}

/** New parts and their entry in one transaction: all of it is stored, or nothing. */
export function recordExpanded(db: Db, clock: Clock, actor: Actor, heading: EntryHeading, expand: Expand): Result<SavedEntry> {
  return inTransaction(db, () => {
    const already = savedOnce(db, actor, heading.onceKey)
    if (already) return done(already)
    const expanded = expandNow(db, actor, heading, expand)
    if (!expanded.ok) return expanded
    const ids = new Map<string, string>()
    for (const { id, ...part } of expanded.value.newParts) {
      const created = createPart(db, clock, actor, part)
      if (!created.ok) return created
      ids.set(id, created.value.id)
    }
    const { also, ...entry } = heading
    return append(db, clock, actor, {
      ...entry,
      changes: [...expanded.value.changes.map((change) => withPartIds(change, ids)), ...(also ?? [])],
    })
  })
}

export function previewExpanded(db: Db, actor: Actor, heading: EntryHeading, expand: Expand): Result<TriedChain> {
  const expanded = expandNow(db, actor, heading, expand)
  if (!expanded.ok) return expanded
  const { also, ...rest } = heading
  const { newParts } = expanded.value
  const tried = [...expanded.value.changes, ...(also ?? [])]
  const entry = { ...rest, changes: tried }
  const faults = [...newParts.flatMap(faultsOfPart), ...faultsOf(entry)]
  if (faults.length > 0) return refused(faults)
  const extra = new Map(newParts.map((part) => [part.id, { ...part, key: part.id }]))
  const planned = plan(db, actor, { vehicleId: heading.vehicleId, entry, extra })
  if (!planned.ok) return planned
  const kindOfPart = kindsWith(db, actor, extra)
  const { before, report, document } = planned.value
  return done({ before: before.report, after: report, document, changes: tried, newParts, records: countRecorded(tried, kindOfPart) })
}

/**
 * Newest first, as they stand now: superseded versions are left out, withdrawn entries are marked. `before` is an entry's id, or a date.
 * What they showed is long: `shown` leaves it out.
 */
export function entriesOf(
  db: Db,
  actor: Actor,
  vehicleId: string,
  given: {
    readonly limit?: number | undefined
    readonly before?: string | undefined
    readonly contains?: string | undefined
    readonly shown?: 'none'
  } = {},
): SavedEntry[] {
  const { limit, before, contains = '', shown } = given
  let all = listedRows(db, actor, vehicleId)
  if (before !== undefined) {
    const at = all.findIndex((row) => row.id === before)
    all = at >= 0 ? all.slice(at + 1) : all.filter((row) => row.effectiveOn < before)
  }
  const wanted = contains.trim().toLowerCase()
  const told = tellSome(db, actor, { vehicleId, ids: all.slice(0, wanted === '' ? limit : undefined).map((row) => row.id) })
  const found = told.filter(({ row, sentences }) => [row.title, row.text, ...sentences].join('\n').toLowerCase().includes(wanted))
  return saved(db, actor, found.slice(0, limit), shown)
}

/** What the journal lists, newest first: of a corrected entry the latest version, and withdrawn ones. */
export function listedRows(db: Db, actor: Actor, vehicleId: string): readonly OutlineRow[] {
  return outlineOf(db, actor, vehicleId)
    .rows.filter((row) => row.correction !== 'withdrawn' && row.replacedBy === null)
    .reverse()
}

/** Those that stand, up to a day, oldest first, without what they showed; read some at a time, so that others have their turn. */
export async function standingEntries(
  db: Db,
  actor: Actor,
  given: { readonly vehicleId: string; readonly until: string },
): Promise<readonly SavedEntry[]> {
  const { vehicleId, until } = given
  const outline = outlineOf(db, actor, vehicleId)
  const ids = outline.live.flatMap(({ id, effectiveOn }) => (effectiveOn <= until ? [id] : []))
  return someInTurn(ids, (some) => someEntries(db, actor, { vehicleId, outline, ids: some }))
}

/** These entries of a vehicle, in the order of the ids, without what they showed. */
export function someEntries(db: Db, actor: Actor, given: Some): readonly SavedEntry[] {
  return saved(db, actor, tellSome(db, actor, given), 'none')
}

export function entryOf(db: Db, actor: Actor, entryId: string): SavedEntry | null {
  const row = entryRow(db, actor, entryId)
  if (!row) return null
  const told = toldEntry(db, actor, { vehicleId: row.vehicleId, entryId })
  return told ? (saved(db, actor, [told])[0] ?? null) : null
}

/** Newest first: every standing entry that touched the component. */
export function entriesAbout(db: Db, actor: Actor, vehicleId: string, componentKey: string): SavedEntry[] {
  const mentions = entriesThatName(db, actor, vehicleId, componentKey)
  const ids = listedRows(db, actor, vehicleId).flatMap(({ id, withdrawnBy }) => (withdrawnBy === null && mentions.has(id) ? [id] : []))
  const about = tellSome(db, actor, { vehicleId, ids }).filter(({ row }) => row.changes.some((change) => touches(change, componentKey)))
  return saved(db, actor, about)
}

/** A correction's marks, for pages that show both versions or offer to undo. */
export function correctionsOf(
  db: Db,
  actor: Actor,
  entryId: string,
): { readonly corrects: string | null; readonly withdrawnBy: string | null; readonly replacedBy: string | null } | null {
  const row = entryRow(db, actor, entryId)
  return row ? { corrects: row.correctsId, withdrawnBy: row.withdrawnBy, replacedBy: row.replacedBy } : null
}

type Ask = {
  readonly vehicleId: string
  readonly entry?: NewEntry
  readonly without?: string | undefined
  readonly restores?: string | undefined
  readonly placeId?: string
  readonly extra?: ReadonlyMap<string, Part>
}
type Plan = {
  readonly before: { readonly document: VehicleDocument; readonly report: Report }
  readonly document: VehicleDocument
  readonly report: Report
  readonly head: State
  /** the part each component held just before the entry */
  readonly partBefore: ReadonlyMap<string, string>
  /** it comes last and alters no component and no zone, so nothing recorded before reads otherwise */
  readonly isQuiet: boolean
}

const newest = '~'

/** Folds the journal as it would stand and judges its head; a conflict names the entry it arose in. */
function plan(db: Db, actor: Actor, ask: Ask): Result<Plan> {
  const vehicle = vehicleRow(db, actor, ask.vehicleId)
  if (!vehicle) return refused([refusal('not-found', 'There is no such vehicle.')])
  const kindOfPart = kindsWith(db, actor, ask.extra)
  const journal = outlineOf(db, actor, ask.vehicleId)
  const standing = journal.live.filter((row) => row.id !== ask.without)
  const added = ask.entry ? provisional(ask.entry, ask.placeId) : ask.restores === undefined ? undefined : journal.byId.get(ask.restores)
  const rows = added ? inOrder([...standing, added]) : standing
  const at = added ? rows.indexOf(added) : rows.length
  // What stands before the first row that is new or gone has been folded already; most entries come last.
  const gone = ask.without === undefined ? -1 : journal.live.findIndex((row) => row.id === ask.without)
  const same = gone === -1 ? at : Math.min(at, gone)
  const start = stateAfter(db, actor, { vehicleId: ask.vehicleId, count: same })
  // Words alter nothing, and yet what they speak of has to be there: the rest is folded whole.
  const rest = wholeOf(db, actor, { vehicleId: ask.vehicleId, rows: rows.slice(same), entry: ask.entry ? added : undefined })
  const earlier = fold(rest.slice(0, at - same), undefined, { start, kindOfPart })
  const head = 'conflict' in earlier ? earlier : fold(rest.slice(at - same), undefined, { start: earlier, kindOfPart })
  if ('conflict' in head || 'conflict' in earlier) {
    const { conflict, entryId, change } = head as Extract<typeof head, { conflict: unknown }>
    if (ask.entry && entryId === added?.id) return refused([refusal('does-not-apply', conflict.sentence, { field: `changes.${change}` })])
    const title = journal.byId.get(entryId)?.title ?? ''
    const dated = journal.byId.get(entryId)?.effectiveOn ?? ''
    return refused([
      refusal('later-entry-depends', `The entry "${title}" of ${dated} would no longer apply: ${conflict.sentence}`, { entryId }),
    ])
  }
  const stored = partsById(db, actor)
  const parts = { get: (id: string): Part | undefined => ask.extra?.get(id) ?? stored.get(id) }
  const before = reportOn(db, actor, ask.vehicleId)
  const made = documentOf(head, parts, undefined)
  // An entry that changes no wiring leaves document and report as they are: the very same ones.
  const isSame = JSON.stringify(made) === JSON.stringify(before.document)
  const document = isSame ? before.document : made
  const report = isSame ? before.report : checkVehicle(document)
  const partBefore = new Map([...earlier.components.values()].map((component) => [component.key, component.part]))
  const isQuiet =
    ask.entry !== undefined &&
    ask.without === undefined &&
    at === standing.length &&
    head.components === earlier.components &&
    head.zones === earlier.zones
  return done({ before, document, report, head, partBefore, isQuiet })
}

/** `entry` stands among them with all its changes already. */
function wholeOf(
  db: Db,
  actor: Actor,
  given: { readonly vehicleId: string; readonly rows: readonly OutlineRow[]; readonly entry: OutlineRow | undefined },
): readonly OutlineRow[] {
  const { vehicleId, rows, entry } = given
  const ids = rows.flatMap((row) => (row === entry ? [] : [row.id]))
  if (ids.length === 0) return rows
  const whole = new Map(wholeRows(db, actor, { vehicleId, ids }).map((row) => [row.id, row]))
  return rows.map((row) => (row === entry ? row : (whole.get(row.id) as EntryRow)))
}

function store(
  db: Db,
  clock: Clock,
  actor: Actor,
  planned: Plan,
  given: {
    readonly entry: NewEntry
    readonly correctsId?: string
    readonly correction?: 'withdrawn' | 'replaced'
    readonly placeId?: string
  },
): SavedEntry {
  const { entry } = given
  const id = newId(clock)
  db.insert(entries)
    .values({
      id,
      householdId: actor.householdId,
      vehicleId: entry.vehicleId,
      effectiveOn: entry.effectiveOn,
      placeId: given.placeId ?? id,
      recordedAt: clock.now().toISOString(),
      recordedBy: actor.personId,
      title: entry.title.trim(),
      text: entry.text?.trim() ?? '',
      odometer_km: entry.odometer_km ?? null,
      cost_minor: entry.cost_minor ?? null,
      correctsId: given.correctsId ?? null,
      correction: given.correction ?? null,
      onceKey: entry.onceKey ?? null,
      shown: JSON.stringify(shownBy(planned)),
    })
    .run()
  for (const [position, change] of entry.changes.entries()) {
    const { kind, ...payload } = change
    const row = {
      id: newId(clock),
      householdId: actor.householdId,
      vehicleId: entry.vehicleId,
      entryId: id,
      position,
      kind,
      v: changeKind(kind)?.v ?? 1,
    }
    db.insert(changes)
      .values({ ...row, payload: JSON.stringify(payload) })
      .run()
  }
  keepDigest(db, 'entries', id)
  if (!entry.asFound) recordMoves(db, clock, actor, { id, moves: movesOf(entry.changes, planned.partBefore) })
  keepHead(db, actor, entry.vehicleId, planned.head, { document: planned.document, report: planned.report })
  // After all others, also those that stand no more: what they say stays as it is.
  const isLast = given.correctsId === undefined && outlineOf(db, actor, entry.vehicleId).rows.at(-1)?.id === id
  if (planned.isQuiet) keepSearchOfEntry(db, actor, { vehicleId: entry.vehicleId, entryId: id })
  else if (isLast) keepSearchOfLast(db, actor, { vehicleId: entry.vehicleId, entryId: id, head: planned.head })
  else keepSearchOfVehicle(db, actor, entry.vehicleId, planned.head)
  const saved = entryOf(db, actor, id) as SavedEntry
  queueEntry(db, clock, actor, saved)
  return saved
}

/** Today's head with the entry against today's head without it, so that a late record of an old job tells what it means now. */
export function shownBy(planned: { readonly before: { readonly report: Report }; readonly report: Report }): Shown {
  const { appeared, cleared, changed } = compareFindings(planned.before.report, planned.report)
  const judged = planned.report.findings.filter((finding) => finding.verdict === 'clear' && finding.used !== null)
  // A rated voltage is always used whole: it is currents that get tight.
  const currents = judged.filter((finding) => finding.unit === 'A')
  const clear = currents.length > 0 ? currents : judged
  const tightestClear = clear.reduce<Finding | null>((most, finding) => ((finding.used ?? 0) > (most?.used ?? -1) ? finding : most), null)
  return {
    version: CHECK_VERSION,
    findings: planned.report.findings.filter((finding) => finding.verdict !== 'clear'),
    tightestClear,
    appeared,
    cleared,
    changed,
  }
}

const heading = z.object({
  vehicleId: z.string(),
  effectiveOn: day,
  title: z.string().trim().min(1, 'Give the entry a title.').max(200, 'Keep the title under 200 letters.'),
  text: z.string().max(20_000, 'Keep the text under 20 000 letters.').optional(),
  odometer_km: figure.max(10_000_000).optional(),
  cost_minor: z.number().int().min(0).max(1e12).optional(),
  onceKey: z.string().min(1).max(100).optional(),
})

function faultsOf(entry: NewEntry, clock?: Clock): readonly Refusal[] {
  const faults = (heading.safeParse(entry).error?.issues ?? []).map((issue) =>
    refusal('not-valid', issue.message, { field: issue.path.join('.') }),
  )
  for (const [index, { kind, ...payload }] of entry.changes.entries()) {
    const known = changeKind(kind)
    if (!known) faults.push(refusal('not-valid', `There is no kind of change called "${kind}".`, { field: `changes.${index}.kind` }))
    for (const issue of known?.payload.safeParse(payload).error?.issues ?? []) {
      faults.push(refusal('not-valid', issue.message, { field: ['changes', index, ...issue.path].join('.') }))
    }
  }
  if (clock && entry.effectiveOn > furthestEast(clock)) {
    faults.push(refusal('date-in-future', 'The journal holds what has happened: give a date that has come.', { field: 'effectiveOn' }))
  }
  return faults
}

/** The latest date on any calendar now: time zones reach fourteen hours east. */
export function furthestEast(clock: Clock): string {
  return new Date(clock.now().getTime() + 14 * 3_600_000).toISOString().slice(0, 10)
}

function expandingChain(chain: Chain): Expand {
  return (known) => takeFromRest({ ...known, chain, expanded: expandChain({ ...known, chain }) })
}

/** Keys that the vehicle uses at any time are left alone, so that an old job recorded late disturbs nothing. */
function expandNow(db: Db, actor: Actor, given: EntryHeading, expand: Expand): Result<Extract<Expanded, { ok: true }>> {
  const faults = faultsOf({ ...given, changes: [] })
  if (faults.length > 0) return refused(faults)
  const vehicle = vehicleRow(db, actor, given.vehicleId)
  if (!vehicle) return refused([refusal('not-found', 'There is no such vehicle.')])
  const { rows } = outlineOf(db, actor, given.vehicleId)
  const state = stateOn(db, actor, given.vehicleId, given.effectiveOn)
  const taken = new Set(rows.flatMap((row) => row.changes.flatMap((change) => (change.kind === 'fitted' ? [change.component.key] : []))))
  const expanded = expand({ state, parts: partsById(db, actor), taken })
  return expanded.ok ? done(expanded) : refused(expanded.refusals)
}

function withPartIds(change: Change, ids: ReadonlyMap<string, string>): Change {
  if (change.kind === 'fitted')
    return { ...change, component: { ...change.component, part: ids.get(change.component.part) ?? change.component.part } }
  if (change.kind === 'swapped') return { ...change, part: ids.get(change.part) ?? change.part }
  return change
}

function kindsWith(db: Db, actor: Actor, extra: ReadonlyMap<string, Part> | undefined): (part: string) => string | undefined {
  const stored = kindsOfParts(db, actor)
  return (part) => extra?.get(part)?.kind ?? stored(part)
}

/** The entry as a row that is not stored yet: the newest of its day, or in the place of the one it corrects. */
function provisional(entry: NewEntry, placeId = newest): EntryRow {
  return {
    id: newest,
    householdId: '',
    vehicleId: entry.vehicleId,
    effectiveOn: entry.effectiveOn,
    placeId,
    recordedAt: '',
    recordedBy: '',
    title: entry.title,
    text: '',
    odometer_km: entry.odometer_km ?? null,
    cost_minor: null,
    correctsId: null,
    correction: null,
    onceKey: null,
    changes: entry.changes,
    author: '',
    withdrawnBy: null,
    replacedBy: null,
  }
}

function alreadyCorrected(row: OutlineRow): Refusal {
  const entryId = row.replacedBy ?? row.withdrawnBy ?? row.id
  return refusal(
    'already-corrected',
    row.replacedBy === null ? 'This entry is already withdrawn.' : 'This entry has a later version; correct that one.',
    { entryId },
  )
}

/** The entry stored under a once-key, if there is one. */
export function savedOnce(db: Db, actor: Actor, onceKey: string | undefined): SavedEntry | null {
  if (onceKey === undefined) return null
  const row = db
    .select({ id: entries.id })
    .from(entries)
    .where(and(eq(entries.onceKey, onceKey), eq(entries.householdId, actor.householdId)))
    .get()
  return row ? entryOf(db, actor, row.id) : null
}

function entryRow(db: Db, actor: Actor, entryId: string): (OutlineRow & { readonly vehicleId: string }) | undefined {
  const row = db
    .select({ vehicleId: entries.vehicleId })
    .from(entries)
    .where(and(eq(entries.id, entryId), eq(entries.householdId, actor.householdId)))
    .get()
  const found = row && outlineOf(db, actor, row.vehicleId).byId.get(entryId)
  return found && { ...found, vehicleId: row.vehicleId }
}

function saved(db: Db, actor: Actor, told: readonly ToldEntry[], wanted?: 'none'): SavedEntry[] {
  const ids = wanted === 'none' ? [] : told.map(({ row }) => row.id)
  const shown = shownOf(db, actor, ids)
  return told.map(({ row, sentences }) => savedOf(row, { sentences, shown: shown.get(row.id) ?? null }))
}

function savedOf(row: EntryRow, told: { readonly sentences: readonly string[]; readonly shown: Shown | null }): SavedEntry {
  const { id, vehicleId, effectiveOn, recordedAt, title, text, odometer_km, cost_minor, author } = row
  const { sentences, shown } = told
  const withdrawn = row.withdrawnBy !== null || row.replacedBy !== null
  return {
    id,
    vehicleId,
    effectiveOn,
    recordedAt,
    title,
    text,
    odometer_km,
    cost_minor,
    author,
    changes: row.changes,
    sentences,
    withdrawn,
    shown,
  }
}

/** Said of it by name: what is finished or looked at names only its own key. */
export function touches(change: Change, key: string): boolean {
  switch (change.kind) {
    case 'described':
      return change.component?.key === key
    case 'fitted':
      return change.component.key === key
    case 'joined':
    case 'unjoined':
      return componentOf(change.from) === key || componentOf(change.to) === key
    case 'measured':
      return change.at === key || componentOf(change.at) === key
    case 'unfinished':
      return change.components.includes(key)
    case 'finished':
    case 'left':
    case 'due-done':
    case 'due-dropped':
      return false
    default:
      return change.component === key
  }
}
