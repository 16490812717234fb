/** What is told to other programs: once, signed, tried again ever less often, and given up in the end. */
import { createHmac } from 'node:crypto'
import { expect, test } from 'vitest'
import type { Clock } from '../../server/records/clock.ts'
import { append } from '../../server/records/journal.ts'
import { createPart } from '../../server/records/parts.ts'
import { webhookDeliveries } from '../../server/records/schema.ts'
import {
  addWebhook,
  deliverDue,
  deliveriesOf,
  forgetOldDeliveries,
  MOST_tries,
  queueAlarm,
  queueDue,
  queueTest,
  revokeWebhook,
  type Send,
  webhooksOf,
} from '../../server/records/webhooks.ts'
import { openBook as openPages } from '../pages/book.ts'
import { household, openBook, rowCounts, value } from './book.ts'

const fine = (): null => null
const URL_ = 'https://hooks.example/loombook'

function opened() {
  const book = openBook()
  let now = new Date('2026-06-01T12:00:00Z')
  const clock: Clock = { now: () => now }
  const later = (minutes: number) => {
    now = new Date(now.getTime() + minutes * 60_000)
  }
  const hook = value(addWebhook(book.db, clock, book.actor, { url: URL_, faultOf: fine }))
  return { ...book, clock, later, hook }
}
function sender(answers: readonly boolean[]) {
  const messages: Parameters<Send>[0][] = []
  const send: Send = async (message) => {
    const isTaken = answers[messages.length] ?? answers.at(-1) ?? true
    messages.push(message)
    return { isTaken, says: isTaken ? 'Answered 200.' : 'Answered 500.' }
  }
  return { send, messages }
}

test('an entry that brings a finding over its limit is told once, in the transaction that saves it', async () => {
  const book = await openPages()
  const vehicleId = book.vehicles[0] as string
  value(addWebhook(book.db, book.clock, book.actor, { url: URL_, faultOf: fine }))
  const looked = value(
    append(book.db, book.clock, book.actor, {
      vehicleId,
      effectiveOn: '2026-11-20',
      title: 'Looked',
      changes: [{ kind: 'noted', text: 'Dry.' }],
    }),
  )
  expect(looked.shown?.appeared).toEqual([])
  expect(book.db.select().from(webhookDeliveries).all()).toEqual([])
  // The relay's place taken by one that bears a hundredth of an ampere: whatever it carried is over that.
  const weak = value(createPart(book.db, book.clock, book.actor, { kind: 'relay', name: 'Weak relay', ratings: { make_A: 0.01 } })).id
  const entry = {
    vehicleId,
    effectiveOn: '2026-11-20',
    title: 'Another relay',
    changes: [{ kind: 'swapped', component: 'r7', part: weak, fate: 'bin' } as const],
  }
  const saved = value(append(book.db, book.clock, book.actor, { ...entry, onceKey: 'one' }))
  value(append(book.db, book.clock, book.actor, { ...entry, onceKey: 'one' }))
  const over = saved.shown?.appeared.filter((finding) => finding.verdict === 'over') ?? []
  expect(over.length).toBeGreaterThan(0)
  const rows = book.db.select().from(webhookDeliveries).all()
  expect(rows.length).toBe(1)
  expect(JSON.parse(rows[0]?.body ?? '')).toMatchObject({
    event: 'finding-over',
    entryId: saved.id,
    vehicleId,
    findings: over.map(({ rule, component, limit }) => ({ rule, component, limit })),
  })
  // A refused entry leaves nothing to be told.
  const before = rowCounts(book.db)
  expect(append(book.db, book.clock, book.actor, { ...entry, changes: [...entry.changes, { kind: 'finished', key: 'none' }] }).ok).toBe(
    false,
  )
  expect(rowCounts(book.db)).toEqual(before)
  await book.close()
})

test('what is sent is signed: t and v1 of "t.body" with the secret that was shown', async () => {
  const book = opened()
  queueTest(book.db, book.clock, book.actor, book.hook.id)
  const { send, messages } = sender([true])
  expect(await deliverDue(book.db, book.clock, { send })).toBe(1)
  const [message] = messages
  const at_s = Date.parse('2026-06-01T12:00:00Z') / 1000
  const expected = createHmac('sha256', book.hook.secret).update(`${at_s}.${message?.body}`).digest('hex')
  expect(message?.url).toBe(URL_)
  expect(message?.headers['loombook-signature']).toBe(`t=${at_s},v1=${expected}`)
  expect(JSON.parse(message?.body ?? '')).toMatchObject({ event: 'test', id: message?.headers['loombook-delivery'] })
  expect(webhooksOf(book.db, book.actor)).toMatchObject([
    { url: URL_, waiting: 0, last: { tries: 1, nextAt: null, says: 'Answered 200.' } },
  ])
})

test('not taken: tried again ever later, eight times, the same body each time; then given up', async () => {
  const book = opened()
  queueTest(book.db, book.clock, book.actor, book.hook.id)
  const { send, messages } = sender([false])
  const waits: number[] = []
  let waited = 0
  for (let minute = 0; minute < 3000; minute++) {
    if ((await deliverDue(book.db, book.clock, { send })) > 0) {
      waits.push(waited)
      waited = 0
    }
    book.later(1)
    waited++
  }
  expect(waits).toEqual([0, 1, 5, 15, 60, 180, 360, 720])
  expect(messages.length).toBe(MOST_tries)
  expect(new Set(messages.map((message) => message.body)).size).toBe(1)
  expect(new Set(messages.map((message) => message.headers['loombook-signature'])).size).toBe(MOST_tries)
  expect(webhooksOf(book.db, book.actor)[0]?.last).toMatchObject({ tries: 8, nextAt: null, says: 'Given up after 8 tries. Answered 500.' })
})

test('taken at the third try: no fourth', async () => {
  const book = opened()
  queueTest(book.db, book.clock, book.actor, book.hook.id)
  const { send, messages } = sender([false, false, true])
  for (let minute = 0; minute < 200; minute++) {
    await deliverDue(book.db, book.clock, { send })
    book.later(1)
  }
  expect(messages.length).toBe(3)
})

test('two rounds at the same time send each delivery once', async () => {
  const book = opened()
  for (let n = 0; n < 5; n++) queueTest(book.db, book.clock, book.actor, book.hook.id)
  const { send, messages } = sender([true])
  await Promise.all([deliverDue(book.db, book.clock, { send }), deliverDue(book.db, book.clock, { send })])
  expect(messages.length).toBe(5)
  expect(new Set(messages.map((message) => message.body)).size).toBe(5)
})

test('a machine that stops while it sends tries that one again', async () => {
  const book = opened()
  queueTest(book.db, book.clock, book.actor, book.hook.id)
  void deliverDue(book.db, book.clock, { send: () => new Promise(() => {}) })
  const { send, messages } = sender([true])
  expect(await deliverDue(book.db, book.clock, { send })).toBe(0)
  book.later(3)
  expect(await deliverDue(book.db, book.clock, { send })).toBe(1)
  expect(messages.length).toBe(1)
})

test('revoked: what waits is given up, what is on its way stays given up, and nothing more is queued', async () => {
  const book = opened()
  queueTest(book.db, book.clock, book.actor, book.hook.id)
  const slow = deliverDue(book.db, book.clock, {
    send: async () => {
      expect(revokeWebhook(book.db, book.clock, book.actor, book.hook.id)).toBe(true)
      return { isTaken: false, says: 'Answered 500.' }
    },
  })
  await slow
  expect(deliveriesOf(book.db, book.actor, book.hook.id, { most: 9 })).toMatchObject([
    { nextAt: null, says: 'Not sent: the webhook was revoked.' },
  ])
  expect(queueTest(book.db, book.clock, book.actor, book.hook.id)).toBeNull()
  book.later(10_000)
  const { send, messages } = sender([true])
  expect(await deliverDue(book.db, book.clock, { send })).toBe(0)
  expect(messages).toEqual([])
})

test('what falls due is told on its day and not before, by its date or by the odometer, and once', () => {
  const book = opened()
  const set = (key: string, when: { on?: string; odometer_km?: number }, more = {}) =>
    value(
      append(book.db, book.clock, book.actor, book.entry('2026-05-01', [{ kind: 'due-set', key, what: `Look at ${key}`, ...when }], more)),
    )
  set('grounds', { on: '2026-06-02' })
  set('belt', { odometer_km: 100_000 }, { odometer_km: 99_999 })
  const queued = () => queueDue(book.db, book.clock, { timeZone: 'UTC' })
  expect(queued()).toBe(0)
  book.later(24 * 60)
  expect([queued(), queued()]).toEqual([1, 0])
  value(append(book.db, book.clock, book.actor, book.entry('2026-05-20', [], { odometer_km: 100_000 })))
  expect([queued(), queued()]).toEqual([1, 0])
  const told = deliveriesOf(book.db, book.actor, book.hook.id, { most: 9 })
  expect(told.map((one) => one.event)).toEqual(['due', 'due'])
  const bodies = book.db
    .select()
    .from(webhookDeliveries)
    .all()
    .map((row) => JSON.parse(row.body) as { key: string; on: string | null })
  expect(bodies.map(({ key, on }) => [key, on])).toEqual([
    ['grounds', '2026-06-02'],
    ['belt', null],
  ])
  // Set anew it is another time to look, and told when that comes.
  set('grounds', { on: '2026-06-03' })
  expect(queued()).toBe(0)
  book.later(24 * 60)
  expect(queued()).toBe(1)
})

test('B3: another household’s webhooks are not seen, not revoked, not tried, and are told nothing of ours', () => {
  const book = opened()
  const stranger = household(book.db, book.clock, 'Stranger')
  const theirs = value(addWebhook(book.db, book.clock, stranger, { url: URL_, faultOf: fine }))
  expect(webhooksOf(book.db, stranger).map((one) => one.id)).toEqual([theirs.id])
  expect(revokeWebhook(book.db, book.clock, stranger, book.hook.id)).toBe(false)
  expect(queueTest(book.db, book.clock, stranger, book.hook.id)).toBeNull()
  value(
    append(book.db, book.clock, book.actor, book.entry('2026-05-01', [{ kind: 'due-set', key: 'belt', what: 'Belt', on: '2026-05-02' }])),
  )
  expect(queueDue(book.db, book.clock, { timeZone: 'UTC' })).toBe(1)
  expect(deliveriesOf(book.db, stranger, theirs.id, { most: 9 })).toEqual([])
  expect(deliveriesOf(book.db, stranger, book.hook.id, { most: 9 })).toEqual([])
})

test('an address that is refused is not kept', () => {
  const book = opened()
  const before = rowCounts(book.db)
  const refused = addWebhook(book.db, book.clock, book.actor, { url: 'http://127.0.0.1', faultOf: () => 'Not there.' })
  expect(refused).toMatchObject({ ok: false, refusals: [{ sentence: 'Not there.', field: 'url' }] })
  expect(addWebhook(book.db, book.clock, book.actor, { url: `https://hooks.example/${'x'.repeat(2000)}`, faultOf: fine }).ok).toBe(false)
  expect(rowCounts(book.db)).toEqual(before)
})

test('what is over is forgotten after ninety days, but what is due is told once however old that is', async () => {
  const book = opened()
  const due = (key: string) =>
    value(append(book.db, book.clock, book.actor, book.entry('2026-05-01', [{ kind: 'due-set', key, what: 'Look', on: '2026-06-01' }])))
  due('grounds')
  queueTest(book.db, book.clock, book.actor, book.hook.id)
  queueDue(book.db, book.clock, { timeZone: 'UTC' })
  queueAlarm(book.db, book.clock, { kind: 'backup', says: 'Late.' })
  await deliverDue(book.db, book.clock, sender([true]))
  const revoked = value(addWebhook(book.db, book.clock, book.actor, { url: URL_, faultOf: fine })).id
  due('belt')
  queueDue(book.db, book.clock, { timeZone: 'UTC' })
  revokeWebhook(book.db, book.clock, book.actor, revoked)
  queueTest(book.db, book.clock, book.actor, book.hook.id)
  const kept = (id: string) => deliveriesOf(book.db, book.actor, id, { most: 99 }).map((one) => `${one.event} ${one.tries}`)
  expect([kept(book.hook.id), kept(revoked)]).toEqual([
    ['test 0', 'due 0', 'alarm 1', 'due 1', 'test 1'],
    ['due 0', 'due 0'],
  ])
  book.later(90 * 24 * 60)
  expect(forgetOldDeliveries(book.db, book.clock)).toBe(0)
  book.later(1)
  expect(forgetOldDeliveries(book.db, book.clock)).toBe(4)
  // What still waits stays, and so does what would be told again.
  expect([kept(book.hook.id), kept(revoked)]).toEqual([['test 0', 'due 0', 'due 1'], []])
  expect(queueDue(book.db, book.clock, { timeZone: 'UTC' })).toBe(0)
  expect(forgetOldDeliveries(book.db, book.clock)).toBe(0)
})

test('a webhook with many deliveries shows its last, and how many wait', () => {
  const book = opened()
  for (let n = 0; n < 50; n++) queueTest(book.db, book.clock, book.actor, book.hook.id)
  book.db.$client.exec("UPDATE webhook_deliveries SET next_at = NULL, says = 'Answered 200.' WHERE rowid % 2 = 0")
  const last = book.db.$client.prepare('SELECT max(id) FROM webhook_deliveries').pluck().get()
  expect(webhooksOf(book.db, book.actor)).toMatchObject([{ waiting: 25, last: { id: last, event: 'test' } }])
  expect(deliveriesOf(book.db, book.actor, book.hook.id, { most: 3 }).length).toBe(3)
})
