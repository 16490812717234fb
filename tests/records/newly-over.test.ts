/** What comes over its limit without an entry: by a part's other figures, by a check that has changed, by an archive. Told once, with the head. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join as path } from 'node:path'
import { expect, test } from 'vitest'
import { CHECK_VERSION } from '../../server/engine/rules/check.ts'
import type { Finding } from '../../server/engine/report.ts'
import { forgetDamage, noteDamage } from '../../server/records/damage.ts'
import { append, withdraw } from '../../server/records/journal.ts'
import { createPart, revisePart, unknownRatings } from '../../server/records/parts.ts'
import { reportOn } from '../../server/records/projection.ts'
import { projections, webhookDeliveries } from '../../server/records/schema.ts'
import { recheckTold } from '../../server/records/standing-jobs.ts'
import { addWebhook, revokeWebhook } from '../../server/records/webhooks.ts'
import { createVehicle } from '../../server/records/vehicles.ts'
import { clock, house, into, out } from './archive-forge.ts'
import { fit, household, join, openBook, value } from './book.ts'

type Told = { event: string; vehicleId: string; entryId: string | null; title: string | null; findings: Finding[] }

/**
 * By hand: a lamp of 30 A (constant current) hangs on the make contact of R7. Rated 40 A: 30 ≤ 0.8 × 40 = 32, clear. Rated 20 A: 30 > 20, over.
 */
function wired(given: { readonly told: boolean } = { told: true }) {
  const book = openBook()
  const make = (kind: string, name: string, ratings: object) =>
    value(createPart(book.db, book.clock, book.actor, { kind, name, ratings } as never)).id
  const battery = make('battery', 'Battery', { nominal_V: 12, openCircuit_V: 12.6, internalResistance_ohm: 0.005 })
  const lamp = make('load', 'Big lamp', { behaviour: 'current', current_A: 30, rated_V: 12 })
  const small = make('relay', '20 A relay', { make_A: 20 })
  const joins = [join('bat:+', 'r7:30'), join('r7:87', 'lamp:+'), join('lamp:-', 'bat:-')]
  const wiring = [fit('bat', battery), fit('r7', book.part.relay), fit('lamp', lamp), ...joins]
  const add = (on: string, changes: Parameters<typeof book.entry>[1]) =>
    value(append(book.db, book.clock, book.actor, book.entry(on, changes)))
  add('2024-01-01', wiring)
  const hook = given.told ? addHook() : null
  function addHook() {
    return value(addWebhook(book.db, book.clock, book.actor, { url: 'https://hooks.example/loombook', faultOf: () => null })).id
  }
  const rate = (make_A: number) =>
    value(revisePart(book.db, book.clock, book.actor, book.part.relay, { name: `${make_A} A relay`, ratings: { make_A } }))
  const told = () => {
    const rows = book.db.select().from(webhookDeliveries).all()
    return rows.map((row) => JSON.parse(row.body) as Told)
  }
  const look = () => reportOn(book.db, book.actor, book.vehicleId)
  return { ...book, make, small, add, hook, addHook, rate, told, look }
}
const ofContact = { rule: 'contact-load', component: 'r7', value: expect.closeTo(30, 6), limit: 20, unit: 'A' }
const oldReport = (book: ReturnType<typeof wired>, change: (findings: Finding[]) => Finding[]) => {
  const row = book.db.select().from(projections).get()
  const report = JSON.parse(row?.report ?? '') as { findings: Finding[] }
  const stored = JSON.stringify({ ...report, version: '0', findings: change(report.findings) })
  book.db.update(projections).set({ checkVersion: '0', report: stored }).run()
}

test('a part that bears less than was known is told of within the round, though nobody looked', async () => {
  const book = wired()
  book.rate(20)
  expect(book.told()).toEqual([])
  expect(await recheckTold(book.db)).toBe(1)
  expect(book.told()).toMatchObject([{ event: 'finding-over', vehicleId: book.vehicleId, entryId: null, title: null }])
  expect(book.told()[0]?.findings).toEqual([expect.objectContaining(ofContact)])
  expect(await recheckTold(book.db)).toBe(0)
  book.look()
  expect(book.told().length).toBe(1)
})

test('whoever looks before the round has it told, and the round tells it no second time', async () => {
  for (const look of [
    (book: ReturnType<typeof wired>) => book.look(),
    (book: ReturnType<typeof wired>) => unknownRatings(book.db, book.actor),
  ]) {
    const book = wired()
    book.rate(20)
    look(book)
    expect(book.told().map((one) => one.findings)).toEqual([[expect.objectContaining(ofContact)]])
    await recheckTold(book.db)
    expect(book.told().length).toBe(1)
  }
})

test('what stays over is no news, what is over no more is none, and over once more it is', async () => {
  const book = wired()
  for (const [make_A, times] of [
    [20, 1],
    [19, 1],
    [40, 1],
    [20, 2],
  ] as const) {
    book.rate(make_A)
    await recheckTold(book.db)
    expect(book.told().length, `${make_A} A`).toBe(times)
  }
})

test('a check that has changed tells what it finds over and its forerunner did not; the same check never tells it twice', async () => {
  const book = wired({ told: false })
  book.rate(20)
  book.look()
  book.addHook()
  for (let n = 0; n < 2; n++) {
    oldReport(book, (findings) => findings.filter((one) => one.component !== 'r7'))
    expect(await recheckTold(book.db)).toBe(1)
    expect(book.db.select({ version: projections.checkVersion }).from(projections).all()).toEqual([{ version: CHECK_VERSION }])
    expect(book.told().map((one) => one.findings)).toEqual([[expect.objectContaining(ofContact)]])
  }
})

test('a vehicle that was never judged before is no news, nor is one whose report before cannot be read', async () => {
  for (const report of ['null', '{}', 'not a report']) {
    const book = wired()
    book.rate(20)
    // A file that was damaged holds what would not be taken.
    book.db.$client.pragma('ignore_check_constraints = ON')
    book.db.update(projections).set({ report }).run()
    book.db.$client.pragma('ignore_check_constraints = OFF')
    expect(await recheckTold(book.db), report).toBe(1)
    expect(book.told(), report).toEqual([])
  }
  const book = wired()
  book.rate(20)
  book.db.delete(projections).run()
  expect(await recheckTold(book.db)).toBe(1)
  expect(book.told()).toEqual([])
})

test('where nobody is told nothing is read for it, queued or judged before its turn', async () => {
  const book = wired({ told: false })
  const stranger = household(book.db, book.clock, 'Stranger')
  value(addWebhook(book.db, book.clock, stranger, { url: 'https://hooks.example/theirs', faultOf: () => null }))
  book.rate(20)
  expect(await recheckTold(book.db)).toBe(0)
  book.look()
  expect(book.told()).toEqual([])
  // Told from now on: what was over before is old.
  const hook = book.addHook()
  book.rate(19)
  await recheckTold(book.db)
  expect(book.told()).toEqual([])
  revokeWebhook(book.db, book.clock, book.actor, hook)
  book.rate(40)
  book.look()
  book.rate(20)
  book.look()
  expect(book.told()).toEqual([])
})

test('an entry on a vehicle that waits to be judged tells its own, and what the figures brought apart from it', () => {
  const book = wired()
  book.rate(20)
  const weak = book.make('relay', '10 A relay', { make_A: 10 })
  const entry = book.entry('2024-02-01', [
    fit('r8', weak),
    join('bat:+', 'r8:30'),
    join('r8:87', 'lamp:+'),
    { kind: 'finished', key: 'none' },
  ])
  // Refused: nothing of it is told, and what the figures brought is told with the next.
  expect(append(book.db, book.clock, book.actor, entry).ok).toBe(false)
  expect(book.told()).toEqual([])
  const saved = book.add('2024-02-01', [{ kind: 'swapped', component: 'r7', part: weak, fate: 'bin' }])
  // 30 A is over 10 A as it was over 20 A: the finding stands, and is no news of the entry.
  expect(saved.shown?.appeared.map((one) => one.rule)).not.toContain('contact-load')
  expect(book.told()).toMatchObject([{ entryId: null }])
  expect(book.told()[0]?.findings).toEqual([expect.objectContaining(ofContact)])
})

test('an entry taken back that had mended something is told of by its own key', () => {
  const book = wired()
  book.add('2024-02-01', [{ kind: 'swapped', component: 'r7', part: book.small, fate: 'bin' }])
  const mended = book.add('2024-03-01', [{ kind: 'swapped', component: 'r7', part: book.part.relay, fate: 'bin' }])
  expect(book.told().length).toBe(1)
  value(withdraw(book.db, book.clock, book.actor, mended.id))
  expect(book.told().map((one) => one.findings)).toEqual([[expect.objectContaining(ofContact)], [expect.objectContaining(ofContact)]])
  expect(book.told()[1]?.entryId).toMatch(/^[0-9a-f-]{36}$/)
})

test('where nothing can be written it is read all the same, and told when there is room again, once', async () => {
  const book = wired()
  book.rate(20)
  book.db.$client.pragma('query_only = ON')
  expect(book.look().report.findings).toContainEqual(expect.objectContaining({ ...ofContact, verdict: 'over' }))
  expect(await recheckTold(book.db)).toBe(0)
  book.db.$client.pragma('query_only = OFF')
  expect(book.told()).toEqual([])
  expect(await recheckTold(book.db)).toBe(1)
  book.look()
  expect(book.told().length).toBe(1)
})

test('what is damaged is not judged for it; once all is in order again it is', async () => {
  const book = wired()
  book.rate(20)
  noteDamage(book.db, 'A row reads otherwise.')
  expect(await recheckTold(book.db)).toBe(0)
  forgetDamage(book.db)
  expect(await recheckTold(book.db)).toBe(1)
  expect(book.told().length).toBe(1)
})

test('an archive that brings a vehicle along tells nothing of it; one that brings it a later entry tells what that brought', async () => {
  const folder = mkdtempSync(path(tmpdir(), 'newly-over-'))
  const [from, to] = [house(folder, 'Robin'), house(folder, 'Sam')]
  value(addWebhook(to.db, clock, to.actor, { url: 'https://hooks.example/loombook', faultOf: () => null }))
  const vehicleId = value(createVehicle(from.db, clock, from.actor, { name: 'Bramble', systemVoltage_V: 12 })).id
  const make = (kind: string, name: string, ratings: object) =>
    value(createPart(from.db, clock, from.actor, { kind, name, ratings } as never)).id
  const lamp = make('load', 'Big lamp', { behaviour: 'current', current_A: 30, rated_V: 12 })
  const battery = make('battery', 'Battery', { nominal_V: 12, openCircuit_V: 12.6, internalResistance_ohm: 0.005 })
  const joins = [join('bat:+', 'r7:30'), join('r7:87', 'lamp:+'), join('lamp:-', 'bat:-')]
  const wiring = [fit('bat', battery), fit('r7', make('relay', '40 A relay', { make_A: 40 })), fit('lamp', lamp), ...joins]
  value(append(from.db, clock, from.actor, { vehicleId, effectiveOn: '2024-01-01', title: 'Wired', changes: wiring }))
  const told = () => {
    const rows = to.db.select().from(webhookDeliveries).all()
    return rows.map((row) => JSON.parse(row.body) as Told)
  }
  value(await into(to, await out(from, folder)))
  expect(told()).toEqual([])
  const swap = { kind: 'swapped', component: 'r7', part: make('relay', '20 A relay', { make_A: 20 }), fate: 'bin' } as const
  value(append(from.db, clock, from.actor, { vehicleId, effectiveOn: '2024-02-01', title: 'Swapped', changes: [swap] }))
  const later = await out(from, folder)
  for (let n = 0; n < 2; n++) {
    value(await into(to, later))
    expect(await recheckTold(to.db)).toBe(0)
    expect(told()).toMatchObject([{ vehicleId, entryId: null }])
    expect(told()[0]?.findings).toEqual([expect.objectContaining(ofContact)])
  }
  rmSync(folder, { recursive: true, force: true })
})
