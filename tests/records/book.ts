/** A book to try things in: one household, one vehicle, a few invented parts. */
import { keepChangingDigest } from '../../server/records/changing-digests.ts'
import { type Clock, fixedClock } from '../../server/records/clock.ts'
import type { Actor, Change, NewEntry, Result } from '../../server/records/contract.ts'
import { type Db, openDatabase } from '../../server/records/database.ts'
import { newId } from '../../server/records/ids.ts'
import { createPart } from '../../server/records/parts.ts'
import { households, people } from '../../server/records/schema.ts'
import { createVehicle } from '../../server/records/vehicles.ts'

export type Book = {
  readonly db: Db
  readonly clock: Clock
  readonly actor: Actor
  readonly vehicleId: string
  readonly part: {
    readonly fuse30: string
    readonly fuse5: string
    readonly relay: string
    readonly wire: string
    readonly lamp: string
    readonly block: string
    readonly ground: string
  }
  entry(effectiveOn: string, changes: readonly Change[], more?: Partial<NewEntry>): NewEntry
}

export function openBook(file = ':memory:'): Book {
  const db = openDatabase(file)
  const clock = fixedClock('2026-06-01T12:00:00Z')
  const actor = household(db, clock, 'Robin')
  const vehicleId = value(createVehicle(db, clock, actor, { name: 'Bramble', systemVoltage_V: 12 })).id
  const make = (kind: string, name: string, ratings: Record<string, number | string>): string =>
    value(createPart(db, clock, actor, { kind, name, ratings })).id
  return {
    db,
    clock,
    actor,
    vehicleId,
    part: {
      fuse30: make('fuse', '30 A fuse', { rated_A: 30 }),
      fuse5: make('fuse', '5 A fuse', { rated_A: 5 }),
      relay: make('relay', '40 A relay', { make_A: 40 }),
      wire: make('conductor', '2.5 mm² wire', { crossSection_mm2: 2.5 }),
      lamp: make('load', 'Lamp', { behaviour: 'current', current_A: 4 }),
      block: make('block', 'Block', { ways: 6 }),
      ground: make('ground-point', 'Ground point', {}),
    },
    entry: (effectiveOn, changes, more = {}) => ({ vehicleId, effectiveOn, title: 'Work', changes, ...more }),
  }
}

export function household(db: Db, clock: Clock, name: string): Actor {
  const actor = { householdId: newId(clock), personId: newId(clock), name }
  db.insert(households).values({ id: actor.householdId, recordedAt: 'x' }).run()
  db.insert(people)
    .values({
      id: actor.personId,
      householdId: actor.householdId,
      name,
      nameFolded: `${name}${actor.personId}`,
      passwordHash: 'scrypt$none',
      recordedAt: 'x',
    })
    .run()
  keepChangingDigest(db, 'people', actor.personId)
  return actor
}

export function value<T>(result: Result<T>): T {
  if (!result.ok)
    throw new Error(result.refusals.map((refusal) => `${refusal.code} ${refusal.field ?? ''}: ${refusal.sentence}`).join('\n'))
  return result.value
}

export const fit = (key: string, part: string, more: object = {}): Change => ({
  kind: 'fitted',
  component: { key, name: key.toUpperCase(), part, ...more },
})
export const join = (from: string, to: string): Change => ({ kind: 'joined', from, to })

/** How many rows every table has, but for the log of what was refused. */
export function rowCounts(db: Db): Record<string, number> {
  const names = db.$client
    .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name <> 'security_events' ORDER BY name")
    .pluck()
    .all() as string[]
  return Object.fromEntries(names.map((name) => [name, Number(db.$client.prepare(`SELECT count(*) FROM ${name}`).pluck().get())]))
}
