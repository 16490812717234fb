/** Past 200 lines: all about webhooks. Where to tell another program that something happened, what is waiting to be told, and how often it was tried. */
import { createHmac } from 'node:crypto'
import { and, asc, count, desc, eq, isNotNull, isNull, lte } from 'drizzle-orm'
import { compareFindings } from '../engine/compare.ts'
import { type Clock, today } from './clock.ts'
import type { Actor, Result, SavedEntry } from './contract.ts'
import type { Db } from './database.ts'
import type { Finding, Report } from './engine-types.ts'
import { liveEntries } from './entry-rows.ts'
import { newId } from './ids.ts'
import { done, refusal, refused } from './refusals.ts'
import { projections, vehicles, webhookDeliveries, webhooks } from './schema.ts'
import { noteSecurity } from './security-log.ts'
import { stateOn } from './state.ts'
import { newToken } from './tokens.ts'

export type Delivery = {
  readonly id: string
  readonly event: string
  readonly tries: number
  /** when it is tried next; null: it was taken, or is given up */
  readonly nextAt: string | null
  readonly says: string
  readonly recordedAt: string
}
export type WebhookFacts = {
  readonly id: string
  readonly url: string
  readonly isRevoked: boolean
  readonly recordedAt: string
  readonly last: Delivery | null
  readonly waiting: number
}
export type Send = (message: {
  readonly url: string
  readonly body: string
  readonly headers: Readonly<Record<string, string>>
}) => Promise<{ readonly isTaken: boolean; readonly says: string }>

export const MOST_tries = 8
/** So long a delivery that is over is kept to be looked at. */
const KEPT_days = 90
const MOST_webhooks = 20
const WAITS_min = [1, 5, 15, 60, 180, 360, 720] as const
/** Once begun a try is not begun by another for this long: if the machine stops meanwhile, it is tried again. */
const CLAIM_ms = 2 * 60_000
const AT_ONCE = 10

/** `faultOf` judges the address, which is the business of whoever sends. The secret signs what is sent: it is shown once. */
export function addWebhook(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly url: string; readonly faultOf: (url: string) => string | null },
): Result<{ id: string; secret: string }> {
  const url = given.url.trim()
  const fault = url.length > 2000 ? 'Keep the address under 2000 characters.' : given.faultOf(url)
  if (fault !== null) return refused([refusal('not-valid', fault, { field: 'url' })])
  if (openRows(db, actor.householdId).length >= MOST_webhooks)
    return refused([refusal('not-valid', `At most ${MOST_webhooks} webhooks: revoke one first.`, { field: 'url' })])
  const [id, secret] = [newId(clock), newToken()]
  const { householdId, personId } = actor
  db.insert(webhooks).values({ id, householdId, url, secret, recordedAt: clock.now().toISOString(), recordedBy: personId }).run()
  noteSecurity(db, clock, { kind: 'webhook-added', says: placeOf(url), householdId, personId })
  return done({ id, secret })
}

export function webhooksOf(db: Db, actor: Actor): readonly WebhookFacts[] {
  return db
    .select()
    .from(webhooks)
    .where(eq(webhooks.householdId, actor.householdId))
    .orderBy(asc(webhooks.id))
    .all()
    .map(({ id, url, revokedAt, recordedAt }) => {
      const [last = null] = deliveriesOf(db, actor, id, { most: 1 })
      return { id, url, isRevoked: revokedAt !== null, recordedAt, last, waiting: waitingFor(db, actor, id) }
    })
}

/** Newest first, without what they said. */
export function deliveriesOf(db: Db, actor: Actor, webhookId: string, given: { readonly most: number }): readonly Delivery[] {
  const { id, eventKey, tries, nextAt, says, recordedAt } = webhookDeliveries
  return db
    .select({ id, eventKey, tries, nextAt, says, recordedAt })
    .from(webhookDeliveries)
    .where(and(eq(webhookDeliveries.webhookId, webhookId), eq(webhookDeliveries.householdId, actor.householdId)))
    .orderBy(desc(webhookDeliveries.id))
    .limit(given.most)
    .all()
    .map(({ id, eventKey, tries, nextAt, says, recordedAt }) => ({
      id,
      event: eventKey.split(':')[0] ?? '',
      tries,
      nextAt,
      says,
      recordedAt,
    }))
}

function waitingFor(db: Db, actor: Actor, webhookId: string): number {
  const own = and(eq(webhookDeliveries.webhookId, webhookId), eq(webhookDeliveries.householdId, actor.householdId))
  const found = db
    .select({ waiting: count() })
    .from(webhookDeliveries)
    .where(and(own, isNotNull(webhookDeliveries.nextAt)))
    .get()
  return found?.waiting ?? 0
}

/** What waits to be sent there is given up. False where the household has no such webhook. */
export function revokeWebhook(db: Db, clock: Clock, actor: Actor, id: string): boolean {
  const { householdId, personId } = actor
  const row = db
    .select()
    .from(webhooks)
    .where(and(eq(webhooks.id, id), eq(webhooks.householdId, householdId)))
    .get()
  if (!row) return false
  if (row.revokedAt !== null) return true
  db.$client.transaction(() => {
    db.update(webhooks).set({ revokedAt: clock.now().toISOString() }).where(eq(webhooks.id, id)).run()
    db.update(webhookDeliveries)
      .set({ nextAt: null, says: 'Not sent: the webhook was revoked.' })
      .where(and(eq(webhookDeliveries.webhookId, id), eq(webhookDeliveries.householdId, householdId), lte(webhookDeliveries.nextAt, '~')))
      .run()
    noteSecurity(db, clock, { kind: 'webhook-revoked', says: placeOf(row.url), householdId, personId })
  })()
  return true
}

/** Called in the transaction that saves the entry: what it brought over its limit is told, once. */
export function queueEntry(db: Db, clock: Clock, actor: Actor, entry: SavedEntry): void {
  const findings = overOf(entry.shown?.appeared ?? [])
  if (findings.length === 0) return
  const { id, vehicleId, effectiveOn, title } = entry
  queue(db, clock, actor.householdId, { key: `finding-over:${id}`, told: { vehicleId, entryId: id, effectiveOn, title, findings } })
}

/**
 * Called in the transaction that stores a head made anew, before it is stored: what is over its limit by it, and was not by the report
 * that is stored, is told. Its key names all that the head was made from, so that the same news never comes twice.
 */
export function queueHead(
  db: Db,
  clock: Clock,
  actor: Actor,
  head: {
    readonly vehicleId: string
    readonly lastEntryId: string
    readonly partsDigest: string
    readonly checkVersion: string
    readonly judged: Report
  },
): void {
  const { vehicleId, lastEntryId, partsDigest, checkVersion, judged } = head
  // Where nobody is told the report before is not even read.
  if (openRows(db, actor.householdId).length === 0) return
  const before = storedReport(db, actor, vehicleId)
  const findings = before === null ? [] : overOf(compareFindings(before, judged).appeared)
  if (findings.length === 0) return
  queue(db, clock, actor.householdId, {
    key: `finding-over:${vehicleId}:${lastEntryId}:${partsDigest}:${checkVersion}`,
    told: { vehicleId, entryId: null, effectiveOn: null, title: null, findings },
  })
}

/** Households where somebody is told. */
export function householdsTold(db: Db): ReadonlySet<string> {
  return new Set(openRows(db).map((row) => row.householdId))
}

/** Looks in every vehicle of every household that has a webhook for what has fallen due; each is told once. Answers how many are. */
export function queueDue(db: Db, clock: Clock, given: { readonly timeZone: string }): number {
  const now = today(clock, given.timeZone)
  let queued = 0
  for (const householdId of householdsTold(db)) {
    const actor: Actor = { householdId, personId: '', name: '' }
    for (const { id } of db.select({ id: vehicles.id }).from(vehicles).where(eq(vehicles.householdId, householdId)).all()) {
      const state = stateOn(db, actor, id)
      if (state.vehicle.leftOn !== undefined) continue
      const odometer_km = odometerOf(db, actor, id)
      for (const { key, component, what, on, odometer_km: at_km, entryId } of state.due.values()) {
        const isDue = (on !== undefined && on <= now) || (at_km !== undefined && odometer_km !== null && at_km <= odometer_km)
        if (!isDue) continue
        const told = { vehicleId: id, key, what, component: component ?? null, on: on ?? null, odometer_km: at_km ?? null }
        queued += queue(db, clock, householdId, { key: `due:${entryId}:${key}`, told })
      }
    }
  }
  return queued
}

/** Damaged records and a late backup are told once a day while they last, to every household: they concern the whole house. */
export function queueAlarm(db: Db, clock: Clock, alarm: { readonly kind: string; readonly says: string } | null): number {
  if (alarm === null) return 0
  const key = `alarm:${alarm.kind}:${clock.now().toISOString().slice(0, 10)}`
  let queued = 0
  for (const householdId of householdsTold(db))
    queued += queue(db, clock, householdId, { key, told: { about: alarm.kind, says: alarm.says } })
  return queued
}

/** A delivery that says nothing but that it is one. Null where the household has no such webhook in force. */
export function queueTest(db: Db, clock: Clock, actor: Actor, webhookId: string): string | null {
  if (!openRows(db, actor.householdId).some((row) => row.id === webhookId)) return null
  const id = newId(clock)
  queue(db, clock, actor.householdId, { key: `test:${id}`, told: { says: 'This is a test.' }, webhookId })
  return (
    db
      .select({ id: webhookDeliveries.id })
      .from(webhookDeliveries)
      .where(and(eq(webhookDeliveries.webhookId, webhookId), eq(webhookDeliveries.eventKey, `test:${id}`)))
      .get()?.id ?? null
  )
}

/** Sends what is due to be sent, `only` one delivery if that is said. What is not taken is tried again later, ever less often. */
export async function deliverDue(db: Db, clock: Clock, given: { readonly send: Send; readonly only?: string }): Promise<number> {
  const now = clock.now().toISOString()
  const waiting = db
    .select({ delivery: webhookDeliveries, url: webhooks.url, secret: webhooks.secret })
    .from(webhookDeliveries)
    .innerJoin(webhooks, and(eq(webhooks.id, webhookDeliveries.webhookId), eq(webhooks.householdId, webhookDeliveries.householdId)))
    .where(
      and(isNull(webhooks.revokedAt), given.only === undefined ? lte(webhookDeliveries.nextAt, now) : eq(webhookDeliveries.id, given.only)),
    )
    .orderBy(asc(webhookDeliveries.nextAt))
    .limit(AT_ONCE)
    .all()
    .filter(({ delivery }) => delivery.nextAt !== null)
  // Claimed before anything is awaited: what one run has begun another leaves alone.
  for (const { delivery } of waiting)
    set(db, delivery.id, { tries: delivery.tries + 1, nextAt: later(clock, CLAIM_ms), says: 'Being sent.' })
  await Promise.all(
    waiting.map(async ({ delivery, url, secret }) => {
      const { isTaken, says } = await given.send({ url, body: delivery.body, headers: headersOf(clock, { ...delivery, secret }) })
      const tries = delivery.tries + 1
      const isOver = isTaken || tries >= MOST_tries
      set(db, delivery.id, {
        tries,
        nextAt: isOver ? null : later(clock, (WAITS_min[tries - 1] ?? 720) * 60_000),
        says: isTaken ? says : isOver ? `Given up after ${tries} tries. ${says}` : says,
      })
    }),
  )
  return waiting.length
}

/**
 * Deliveries that are over, a while after. That something due was told is remembered for good while the webhook is in force: an item is
 * looked at again every minute as long as it is due, and one that is brought back falls due under the key it had.
 */
export function forgetOldDeliveries(db: Db, clock: Clock): number {
  const before = new Date(clock.now().getTime() - KEPT_days * 86_400_000).toISOString()
  const text = `DELETE FROM webhook_deliveries WHERE next_at IS NULL AND recorded_at < ?
    AND (event_key NOT LIKE 'due:%' OR webhook_id IN (SELECT id FROM webhooks WHERE revoked_at IS NOT NULL))`
  return db.$client.prepare(text).run(before).changes
}

/** `t` is when it was sent, in seconds; the signature is of "t.body", so that neither can be changed. */
export function signature(given: { readonly secret: string; readonly at_s: number; readonly body: string }): string {
  const { secret, at_s, body } = given
  return `t=${at_s},v1=${createHmac('sha256', secret).update(`${at_s}.${body}`).digest('hex')}`
}

function overOf(findings: readonly Finding[]) {
  return findings
    .filter((finding) => finding.verdict === 'over')
    .map(({ rule, component, condition, value, limit, unit, says }) => ({ rule, component, condition, value, limit, unit, says }))
}

/** Null where there is none, or none that can be read: nothing can be said then of what is new. */
function storedReport(db: Db, actor: Actor, vehicleId: string): Report | null {
  const row = db
    .select({ report: projections.report })
    .from(projections)
    .where(and(eq(projections.vehicleId, vehicleId), eq(projections.householdId, actor.householdId)))
    .get()
  try {
    const report = JSON.parse(row?.report ?? 'null') as Partial<Report> | null
    return Array.isArray(report?.findings) ? (report as Report) : null
  } catch {
    return null
  }
}

type Row = typeof webhooks.$inferSelect

function openRows(db: Db, householdId?: string): readonly Row[] {
  return db
    .select()
    .from(webhooks)
    .where(and(isNull(webhooks.revokedAt), householdId === undefined ? undefined : eq(webhooks.householdId, householdId)))
    .all()
}

function queue(
  db: Db,
  clock: Clock,
  householdId: string,
  event: { readonly key: string; readonly told: object; readonly webhookId?: string },
): number {
  let queued = 0
  const recordedAt = clock.now().toISOString()
  for (const { id: webhookId } of openRows(db, householdId)) {
    if (event.webhookId !== undefined && event.webhookId !== webhookId) continue
    const id = newId(clock)
    const body = JSON.stringify({ id, event: event.key.split(':')[0], recordedAt, ...event.told })
    const row = { id, householdId, webhookId, eventKey: event.key, body, tries: 0, nextAt: recordedAt, says: 'Waiting.', recordedAt }
    queued += db.insert(webhookDeliveries).values(row).onConflictDoNothing().run().changes
  }
  return queued
}

function headersOf(
  clock: Clock,
  given: { readonly secret: string; readonly body: string; readonly id: string; readonly eventKey: string },
) {
  const at_s = Math.floor(clock.now().getTime() / 1000)
  return {
    'loombook-event': given.eventKey.split(':')[0] ?? '',
    'loombook-delivery': given.id,
    'loombook-signature': signature({ ...given, at_s }),
  }
}

/** What came while a webhook was being revoked stays as that left it. */
function set(db: Db, id: string, next: { readonly tries: number; readonly nextAt: string | null; readonly says: string }): void {
  db.update(webhookDeliveries)
    .set(next)
    .where(and(eq(webhookDeliveries.id, id), lte(webhookDeliveries.nextAt, '~')))
    .run()
}

function later(clock: Clock, wait_ms: number): string {
  return new Date(clock.now().getTime() + wait_ms).toISOString()
}

/** The last odometer figure in the journal's order. */
function odometerOf(db: Db, actor: Actor, vehicleId: string): number | null {
  return liveEntries(db, actor, vehicleId).reduce<number | null>((last, entry) => entry.odometer_km ?? last, null)
}

/** Without its path, which may be a secret. */
function placeOf(url: string): string {
  return URL.canParse(url) ? new URL(url).origin : ''
}
