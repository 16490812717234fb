/** Vehicles, their documents, what was found in them, and what was measured. */
import { z } from 'zod'
import { parseDocument } from '../document/parse.ts'
import { checkVehicle } from '../engine/rules/check.ts'
import { today } from '../records/clock.ts'
import type { Actor } from '../records/contract.ts'
import type { Db } from '../records/database.ts'
import { photoIdsOf, photoOf } from '../records/photos.ts'
import { reportOn } from '../records/projection.ts'
import { type PlacedReading, placedReadings, type Reading, readingsOf } from '../records/readings.ts'
import { withRemedies } from '../records/solved.ts'
import { createVehicle, type VehicleFacts, vehicleOf, vehiclesOf } from '../records/vehicles.ts'
import { type Asked, operation } from './operation.ts'
import { earliestMade, latestMade, latestReading, worstFirst } from './orders.ts'
import { pageOf, pageQuery, piece, readPiece } from './paging.ts'
import { photoAnswer } from './photos.ts'
import { doneOr, notFound, Problem } from './problem.ts'
import * as shapes from './shapes.ts'

const MOST_components = 2000
/** Every component is solved in every condition: that many figures are worked out, and answered, at once. */
const MOST_solved = 40_000
const findingsQuery = pageQuery.extend({
  on: shapes.day.optional().describe('As it stood on that day, YYYY-MM-DD; today unless said.'),
  verdict: shapes.verdict.optional().describe('Of one sort only.'),
  rule: z.string().max(80).optional().describe('The id of one rule.'),
})
const EXAMPLE = '0190a000-0000-7000-8000-000000000001'

export const vehicleOperations = [
  operation({
    id: 'listVehicles',
    method: 'GET',
    path: '/vehicles',
    summary: 'Every vehicle of the household',
    writes: false,
    query: pageQuery,
    example: '/api/vehicles?limit=20',
    status: 200,
    answer: pageOf(shapes.vehicleItem),
    handle: ({ app, actor, query }) => {
      const all = vehiclesOf(app.db, actor).map(itemOf)
      return piece(all, { query, order: earliestMade, path: '/api/vehicles' })
    },
  }),
  operation({
    id: 'makeVehicle',
    method: 'POST',
    path: '/vehicles',
    summary: 'A new vehicle, with nothing in it yet',
    writes: true,
    isOnce: true,
    body: shapes.newVehicle,
    example: { name: 'Fern', systemVoltage_V: 12 },
    status: 201,
    answer: shapes.vehicle,
    handle: ({ app, actor, body }) => vehicleAnswer(app.db, actor, doneOr(createVehicle(app.db, app.clock, actor, body)).id),
  }),
  operation({
    id: 'readVehicle',
    method: 'GET',
    path: '/vehicles/:id',
    summary: 'One vehicle, and how it is judged today',
    writes: false,
    example: `/api/vehicles/${EXAMPLE}`,
    status: 200,
    answer: shapes.vehicle,
    handle: ({ app, actor, id }) => vehicleAnswer(app.db, actor, id),
  }),
  operation({
    id: 'readDocument',
    method: 'GET',
    path: '/vehicles/:id/document',
    summary: 'The vehicle’s wiring as one document',
    about: 'As it stood on a day. It can be sent to /api/checks, changed or not.',
    writes: false,
    query: shapes.onQuery,
    example: `/api/vehicles/${EXAMPLE}/document?on=2026-05-03`,
    status: 200,
    answer: shapes.documentOut,
    handle: (asked) => judged(asked, asked.query.on).document,
  }),
  operation({
    id: 'listFindings',
    method: 'GET',
    path: '/vehicles/:id/findings',
    summary: 'What the check finds, the worst first',
    about: 'What cannot be judged is unknown and says what is missing; it is never clear.',
    writes: false,
    query: findingsQuery,
    example: `/api/vehicles/${EXAMPLE}/findings?verdict=over`,
    status: 200,
    answer: pageOf(shapes.finding),
    handle: (asked) => {
      const { query, id } = asked
      const found = judged(asked, query.on)
      const wanted = found.report.findings.filter(
        (finding) => (query.verdict ?? finding.verdict) === finding.verdict && (query.rule ?? finding.rule) === finding.rule,
      )
      const { on, verdict, rule } = query
      const path = `/api/vehicles/${id}/findings`
      const page = piece(wanted, { query, order: worstFirst, path, also: { on, verdict, rule } })
      const shown = new Set(page.items)
      const told = withRemedies(found, (finding) => shown.has(finding)).report.findings
      const places = new Map(found.report.findings.map((finding, n) => [finding, told[n] ?? finding]))
      return { ...page, items: page.items.map((finding) => places.get(finding) ?? finding) }
    },
  }),
  operation({
    id: 'listReadings',
    method: 'GET',
    path: '/vehicles/:id/readings',
    summary: 'What was measured, the latest first',
    writes: false,
    query: pageQuery,
    example: `/api/vehicles/${EXAMPLE}/readings`,
    status: 200,
    answer: pageOf(shapes.reading),
    handle: ({ app, actor, id, query }) => {
      vehicleOrNot(app.db, actor, id)
      const read = (placed: readonly PlacedReading[]) =>
        readingsOf(app.db, actor, { vehicleId: id, keys: placed.map(({ key }) => key) }).map(readingItem)
      return readPiece(placedReadings(app.db, actor, id), { query, order: latestReading, path: `/api/vehicles/${id}/readings`, read })
    },
  }),
  operation({
    id: 'listPhotos',
    method: 'GET',
    path: '/vehicles/:id/photos',
    summary: 'Photos and papers of a vehicle, the latest first',
    writes: false,
    query: pageQuery,
    example: `/api/vehicles/${EXAMPLE}/photos`,
    status: 200,
    answer: pageOf(shapes.photo),
    handle: ({ app, actor, id, query }) => {
      vehicleOrNot(app.db, actor, id)
      const found = photoIdsOf(app.db, actor, id).map((photo) => ({ id: photo }))
      const read = (some: readonly { readonly id: string }[]) =>
        some.flatMap((one) => photoOf(app.db, actor, one.id) ?? []).map(photoAnswer)
      return readPiece(found, { query, order: latestMade, read, path: `/api/vehicles/${id}/photos` })
    },
  }),
  operation({
    id: 'checkDocument',
    method: 'POST',
    path: '/checks',
    summary: 'Judges a vehicle document; nothing is recorded',
    about: `A token that only reads will do. At most ${MOST_components} components, ${MOST_solved} components times conditions, and 2 MB. An Idempotency-Key is not looked at: whatever is sent twice is judged twice.`,
    writes: false,
    body: z.unknown(),
    bodyAsDescribed: shapes.documentIn,
    example: {
      format: 'loombook-vehicle/1',
      vehicle: { name: 'Fern', systemVoltage_V: 12 },
      parts: [{ key: 'ring', kind: 'ground-point', name: 'Ground point', ratings: {} }],
      components: [{ key: 'ground', name: 'Ground', part: 'ring' }],
      joins: [],
    },
    status: 200,
    answer: shapes.report,
    handle: ({ body }) => checked(body),
  }),
]

function vehicleAnswer(db: Db, actor: Actor, id: string) {
  const vehicle = vehicleOrNot(db, actor, id)
  const { notes, recordedAt, firstOn } = vehicle
  const verdicts = { over: 0, tight: 0, unknown: 0, clear: 0 }
  for (const finding of reportOn(db, actor, id).report.findings) verdicts[finding.verdict]++
  return { ...itemOf(vehicle), notes, recordedAt, firstOn, verdicts }
}

/** Field by field: what pages come to know of a vehicle besides is not told by itself. */
function itemOf({ id, name, systemVoltage_V, odometer_km, entryCount }: VehicleFacts) {
  return { id, name, systemVoltage_V, odometer_km, entryCount }
}

function vehicleOrNot(db: Db, actor: Actor, id: string) {
  const vehicle = vehicleOf(db, actor, id)
  if (!vehicle) throw notFound('vehicle')
  return vehicle
}

function judged({ app, actor, id }: Asked<unknown, unknown>, on: string | undefined) {
  vehicleOrNot(app.db, actor, id)
  const now = today(app.clock, app.config.timeZone)
  if (on !== undefined && on > now)
    throw new Problem('not-valid', `${on} is still to come; today is ${now}.`, {
      faults: [{ field: 'on', says: `${on} is still to come; today is ${now}.` }],
    })
  return reportOn(app.db, actor, id, on === now ? undefined : on)
}

const UNITS = { voltage: 'V', current: 'A', resistance: 'ohm' } as const

function readingItem({ key, entryId, on, measured }: Reading) {
  const { at, quantity, value, condition } = measured
  return { key, entryId, on, at, quantity, value, unit: UNITS[quantity], condition: condition ?? null }
}

function checked(body: unknown) {
  const parsed = parseDocument(body)
  if (!parsed.ok) {
    const faults = parsed.faults.slice(0, 100).map(({ path, says }) => ({ field: path, says }))
    throw new Problem(
      'not-valid',
      `This is no vehicle document: ${parsed.faults.length === 1 ? 'one fault' : `${parsed.faults.length} faults`}.`,
      { faults },
    )
  }
  const { components, conditions } = parsed.document
  if (components.length > MOST_components)
    throw new Problem('too-large', `At most ${MOST_components} components are judged at once; this has ${components.length}.`)
  if (components.length * (conditions?.length ?? 1) > MOST_solved)
    throw new Problem('too-large', `Components times conditions may be ${MOST_solved} at most: send fewer conditions at once.`)
  return checkVehicle(parsed.document)
}
