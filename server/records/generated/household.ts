/** Past 200 lines: a household and how its rows are written belong side by side. As large as asked, for measuring. */
/**
 * Its rows are those that entering it all would have written, but put in at once: the journal is folded by the kinds of change, judged by the
 * check, and its heads and search rows are made by the same functions as ever.
 */
import { createHash } from 'node:crypto'
import { checkVehicle } from '../../engine/rules/check.ts'
import { changeKind } from '../changes/index.ts'
import { isConflict } from '../changes/wiring.ts'
import type { Clock } from '../clock.ts'
import type { Actor, Change, Shown } from '../contract.ts'
import type { Db } from '../database.ts'
import { documentOf } from '../document-of.ts'
import type { Grade, Part, Ratings, Report } from '../engine-types.ts'
import { newId } from '../ids.ts'
import { shownBy } from '../journal.ts'
import { faultsOfPart } from '../parts.ts'
import { keepHead } from '../projection.ts'
import { keepSearchOfPart, keepSearchOfVehicle } from '../search-rows.ts'
import { applyChange, emptyState, type State } from '../state.ts'
import { movesOf } from '../stock.ts'
import { createVehicle } from '../vehicles.ts'

export type HouseholdSize = {
  readonly vehicles: number
  readonly entriesPerVehicle: number
  readonly parts: number
  readonly photosPerVehicle: number
  /** when the entries are from; two a day from 2020 on unless said */
  readonly days?: Days
  /** puts the original of a photo in its place and tells what it is; unless said there are rows alone */
  readonly original?: (photoId: string) => Original
}
type Days = { readonly firstYear: number; readonly entriesPerDay: number }
type Original = { readonly sha256: string; readonly bytes: number; readonly width_px: number; readonly height_px: number }
type Writing = {
  readonly db: Db
  readonly clock: Clock
  readonly actor: Actor
  readonly parts: ReadonlyMap<string, Part>
  readonly pools: Readonly<Record<string, readonly string[]>>
  readonly dayOf: (n: number) => string
}

/** Everything in one transaction. The same size makes the same household, but for its ids. */
export function generateHousehold(db: Db, clock: Clock, actor: Actor, size: HouseholdSize): readonly string[] {
  return db.$client
    .transaction(() => {
      const writing = { ...writeParts(db, clock, actor, size.parts), dayOf: daysOf(size.days ?? { firstYear: 2020, entriesPerDay: 2 }) }
      return Array.from({ length: size.vehicles }, (_, number) => writeVehicle(writing, number, size))
    })
    .immediate()
}

const kinds: readonly { readonly kind: string; readonly name: (n: number) => string; readonly ratings: (n: number) => Ratings }[] = [
  {
    kind: 'fuse',
    name: (n) => `Blade fuse ${[15, 20][n % 2]} A, lot ${n}`,
    ratings: (n) => ({ rated_A: [15, 20][n % 2] as number, rated_V: 32, form: 'C' }),
  },
  {
    kind: 'conductor',
    name: (n) => `Wire 2.5 mm², reel ${n}`,
    ratings: () => ({ material: 'copper', crossSection_mm2: 2.5, insulation_degC: 105 }),
  },
  { kind: 'relay', name: (n) => `Make relay 30 A no. ${n}`, ratings: () => ({ make_A: 30, rated_V: 16 }) },
  {
    kind: 'load',
    name: (n) => `Lamp ${10 + (n % 5)} W type ${n}`,
    ratings: (n) => ({ behaviour: 'power', rated_V: 12, power_W: 10 + (n % 5), nature: 'resistive' }),
  },
  {
    kind: 'battery',
    name: (n) => `Starter battery ${n}`,
    ratings: () => ({ nominal_V: 12, openCircuit_V: 12.7, internalResistance_ohm: 0.015, capacity_Ah: 70 }),
  },
  { kind: 'block', name: (n) => `Fuse box ${n}`, ratings: () => ({ ways: 12, total_A: 200, way_A: 30 }) },
  { kind: 'chassis', name: (n) => `Body ${n}`, ratings: () => ({}) },
]

function writeParts(db: Db, clock: Clock, actor: Actor, count: number): Omit<Writing, 'dayOf'> {
  const parts = new Map<string, Part>()
  const pools: Record<string, string[]> = {}
  const put = db.$client.prepare('INSERT INTO parts (id, household_id, kind, recorded_at, recorded_by) VALUES (?, ?, ?, ?, ?)')
  const revise = db.$client.prepare(
    'INSERT INTO part_revisions (id, household_id, part_id, name, v, ratings, evidence, notes, recorded_at, recorded_by) VALUES (?, ?, ?, ?, 1, ?, ?, ?, ?, ?)',
  )
  for (let n = 0; n < count; n++) {
    const { kind, name, ratings } = kinds[n % kinds.length] as (typeof kinds)[number]
    const evidence = Object.fromEntries(Object.keys(ratings(n)).map((rating) => [rating, 'datasheet' as Grade]))
    const part = { kind, name: name(n), ratings: ratings(n), evidence, notes: n % 9 === 0 ? `From the drawer of row ${n % 40}` : '' }
    const [fault] = faultsOfPart(part)
    if (fault) throw new Error(fault.sentence)
    const id = newId(clock)
    const recordedAt = clock.now().toISOString()
    put.run(id, actor.householdId, kind, recordedAt, actor.personId)
    const told = [JSON.stringify(part.ratings), JSON.stringify(evidence), part.notes]
    revise.run(newId(clock), actor.householdId, id, part.name, ...told, recordedAt, actor.personId)
    keepSearchOfPart(db, actor, id)
    parts.set(id, { key: id, ...part })
    pools[kind] = pools[kind] ?? []
    pools[kind].push(id)
  }
  return { db, clock, actor, parts, pools }
}

/** The part of a kind that a vehicle takes when it asks for its `n`th. */
function taken(writing: Writing, kind: string, n: number): string {
  const pool = writing.pools[kind] as readonly string[]
  return pool[n % pool.length] as string
}

const branches = 7
const places = ['Lamps', 'Pump', 'Heater', 'Radio', 'Winch lamp', 'Fan', 'Socket']

function writeVehicle(writing: Writing, number: number, size: HouseholdSize): string {
  const { db, clock, actor, dayOf } = writing
  const made = createVehicle(db, clock, actor, { name: `Vehicle ${number + 1}`, systemVoltage_V: 12 })
  if (!made.ok) throw new Error('no vehicle')
  const vehicleId = made.value.id
  const book = journalIn(writing, vehicleId)
  book.enter({ on: dayOf(0), title: 'Recorded as found', text: '', changes: asFound(writing, number) })
  for (let n = 1; n < size.entriesPerVehicle; n++) {
    if (n % 100 === 50) book.withdrawLast(dayOf(n - 1))
    else book.enter({ on: dayOf(n), ...work(writing, { number, n }), ...(n % 10 === 0 ? { odometer_km: 40_000 + n * 90 } : {}) })
  }
  keepHead(db, actor, vehicleId, book.head())
  keepSearchOfVehicle(db, actor, vehicleId, book.head())
  writePhotos(writing, { vehicleId, entries: book.ids(), count: size.photosPerVehicle, original: size.original ?? rowAlone })
  return vehicleId
}

function asFound(writing: Writing, number: number): readonly Change[] {
  const fit = (key: string, name: string, kind: string, more: object = {}): Change => ({
    kind: 'fitted',
    component: { key, name, part: taken(writing, kind, number * branches + key.length), zone: 'cabin', ...more },
  })
  const join = (from: string, to: string): Change => ({ kind: 'joined', from, to })
  const changes: Change[] = [
    { kind: 'described', zone: { key: 'cabin', name: 'Cabin', ambient_degC: 30 } },
    fit('battery', 'Starter battery', 'battery'),
    fit('block', 'Fuse box', 'block'),
    fit('body', 'Body', 'chassis'),
    join('battery:+', 'block:in'),
    join('battery:-', 'body:b'),
  ]
  for (let n = 1; n <= branches; n++) {
    const place = places[n - 1] as string
    changes.push(
      fit(`f${n}`, `F${n}`, 'fuse', { position: `F${n}` }),
      fit(`wire-${n}`, `${place} feed`, 'conductor', { length_m: 2, colour: 'RD' }),
      fit(`r${n}`, `R${n}`, 'relay'),
      fit(`lead-${n}`, `${place} lead`, 'conductor', { length_m: 1 }),
      fit(`load-${n}`, place, 'load'),
      fit(`return-${n}`, `${place} return`, 'conductor', { length_m: 1, colour: 'BN' }),
    )
    const run = [`block:${n}`, `f${n}:in`, `f${n}:out`, `wire-${n}:a`, `wire-${n}:b`, `r${n}:30`, `r${n}:87`, `lead-${n}:a`, `lead-${n}:b`]
    run.push(`load-${n}:+`, `load-${n}:-`, `return-${n}:a`, `return-${n}:b`, `body:${n}`)
    for (let at = 0; at < run.length; at += 2) changes.push(join(run[at] as string, run[at + 1] as string))
  }
  return changes
}

/** One day's work; what it is goes round, so that every kind of change is there. */
function work(writing: Writing, at: { readonly number: number; readonly n: number }): Omit<Told, 'on'> {
  const { number, n } = at
  const { dayOf } = writing
  const branch = 1 + ((n * 5 + number) % branches)
  const place = places[branch - 1] as string
  const text = `Looked at ${place.toLowerCase()} after ${n % 30} days of rain; contact ${n % 7} had a green film, thread M8x1.25 cleaned.`
  const note: Change = { kind: 'noted', component: `load-${branch}`, text: `Seen at ${n} hours: nothing loose.` }
  const reading: Change = { kind: 'measured', at: `load-${branch}:+`, quantity: 'voltage', value: 12 + (n % 8) / 10 }
  const serviced: Change = { kind: 'serviced', component: `r${branch}`, text: `Contacts of R${branch} cleaned, screw 10-32 tightened.` }
  if (n % 25 === 0)
    return {
      title: `F${branch} swapped`,
      text,
      cost_minor: 250 + n,
      changes: [{ kind: 'swapped', component: `f${branch}`, part: taken(writing, 'fuse', number + n), fate: 'bin' }, note, reading],
    }
  if (n % 60 === 1)
    return {
      title: `${place} named anew`,
      text,
      changes: [{ kind: 'renamed', component: `load-${branch}`, name: `${place} ${n}` }, note, serviced],
    }
  if (n % 90 === 2) {
    const due: Change = { kind: 'due-set', key: `look-${n}`, component: `r${branch}`, what: `Look at R${branch} again`, on: dayOf(n + 400) }
    const done: readonly Change[] = n > 90 ? [{ kind: 'due-done', key: `look-${n - 90}` }] : []
    return { title: 'A date to look again', text, changes: [due, ...done, note] }
  }
  return n % 5 === 4
    ? {
        title: `Readings at ${place.toLowerCase()}`,
        text,
        changes: [reading, { ...reading, at: `f${branch}:out` }, { ...reading, at: `r${branch}:87` }, note],
      }
    : { title: `${place} serviced`, text, ...(n % 3 === 0 ? { cost_minor: 1000 + n } : {}), changes: [serviced, reading, note] }
}

type Told = {
  readonly on: string
  readonly title: string
  readonly text: string
  readonly odometer_km?: number
  readonly cost_minor?: number
  readonly changes: readonly Change[]
}

/** A vehicle's journal as it is filled: each entry is folded, judged where the wiring changed, and written with what it showed. */
function journalIn(writing: Writing, vehicleId: string) {
  const { db, clock, actor, parts } = writing
  const statements = statementsOf(db)
  const ids: string[] = []
  let last: { readonly id: string; readonly title: string } | null = null
  let head: State = emptyState({ name: nameOf(db, vehicleId), systemVoltage_V: 12 })
  let report: Report = checkVehicle(documentOf(head, parts, undefined))
  let judged = JSON.stringify(documentOf(head, parts, undefined))
  const write = (told: Told, shown: Shown, correction: { readonly id: string } | null): string => {
    const id = newId(clock)
    const facts = [told.title, told.text, told.odometer_km ?? null, told.cost_minor ?? null]
    const recorded = [clock.now().toISOString(), actor.personId]
    const marks = [correction?.id ?? null, correction ? 'withdrawn' : null]
    statements.entry.run(id, actor.householdId, vehicleId, told.on, id, ...recorded, ...facts, ...marks, JSON.stringify(shown))
    for (const [position, { kind, ...payload }] of told.changes.entries())
      statements.change.run(
        newId(clock),
        actor.householdId,
        vehicleId,
        id,
        position,
        kind,
        changeKind(kind)?.v ?? 1,
        JSON.stringify(payload),
      )
    return id
  }
  return {
    enter(told: Told): void {
      const before = { state: head, report }
      for (const change of told.changes) {
        const next = applyChange(head, change, {
          entryId: '',
          effectiveOn: told.on,
          odometer_km: told.odometer_km ?? null,
          kindOfPart: (part) => parts.get(part)?.kind,
        })
        if (isConflict(next)) throw new Error(next.sentence)
        head = next
      }
      const document = documentOf(head, parts, undefined)
      const text = JSON.stringify(document)
      if (text !== judged) report = checkVehicle(document)
      judged = text
      const id = write(told, shownBy({ before, report }), null)
      const partBefore = new Map([...before.state.components.values()].map((component) => [component.key, component.part]))
      for (const { part, byCount } of movesOf(told.changes, partBefore))
        statements.move.run(newId(clock), actor.householdId, part, id, byCount)
      ids.push(id)
      last = { id, title: told.title }
    },
    /** Of an entry that changed nothing but what is told, so that nothing else has to be folded again. */
    withdrawLast(on: string): void {
      if (last) write({ on, title: `Withdrawn: ${last.title}`, text: '', changes: [] }, shownBy({ before: { report }, report }), last)
    },
    head: () => head,
    ids: (): readonly string[] => ids,
  }
}

function statementsOf(db: Db) {
  return {
    entry: db.$client.prepare(
      `INSERT INTO entries (id, household_id, vehicle_id, effective_on, place_id, recorded_at, recorded_by, title, text, odometer_km, cost_minor,
       corrects_id, correction, shown) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
    ),
    change: db.$client.prepare(
      'INSERT INTO changes (id, household_id, vehicle_id, entry_id, position, kind, v, payload) VALUES (?, ?, ?, ?, ?, ?, ?, ?)',
    ),
    move: db.$client.prepare('INSERT INTO stock_moves (id, household_id, part_id, entry_id, by_count) VALUES (?, ?, ?, ?, ?)'),
  }
}

function writePhotos(
  writing: Writing,
  given: {
    readonly vehicleId: string
    readonly entries: readonly string[]
    readonly count: number
    readonly original: (photoId: string) => Original
  },
): void {
  const { db, clock, actor } = writing
  const put = db.$client.prepare(
    `INSERT INTO photos (id, household_id, vehicle_id, entry_place_id, sha256, type, bytes, width_px, height_px, file_name, caption, recorded_at, recorded_by)
     VALUES (?, ?, ?, ?, ?, 'image/jpeg', ?, ?, ?, ?, ?, ?, ?)`,
  )
  for (let n = 0; n < given.count; n++) {
    const id = newId(clock)
    const { sha256, bytes, width_px, height_px } = given.original(id)
    const entry = given.entries[n % given.entries.length] as string
    put.run(
      id,
      actor.householdId,
      given.vehicleId,
      entry,
      sha256,
      bytes,
      width_px,
      height_px,
      `photo-${n}.jpg`,
      `Seen from the side, ${n}`,
      clock.now().toISOString(),
      actor.personId,
    )
  }
}

function rowAlone(photoId: string): Original {
  return { sha256: createHash('sha256').update(photoId).digest('hex'), bytes: 2_400_000, width_px: 4000, height_px: 3000 }
}

function nameOf(db: Db, vehicleId: string): string {
  return String(db.$client.prepare('SELECT name FROM vehicles WHERE id = ?').pluck().get(vehicleId))
}

/** By whole days of a calendar of 28-day months, which every calendar has. */
function daysOf({ firstYear, entriesPerDay }: Days): (n: number) => string {
  return (n) => {
    const day = Math.floor(n / entriesPerDay)
    const [year, month, date] = [firstYear + Math.floor(day / 336), 1 + (Math.floor(day / 28) % 12), 1 + (day % 28)]
    return [year, String(month).padStart(2, '0'), String(date).padStart(2, '0')].join('-')
  }
}
