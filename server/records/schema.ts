/** The tables as drizzle sees them. The SQL of the migrations is what makes them; a test compares the two. */

import type { AnySQLiteColumn } from 'drizzle-orm/sqlite-core'
import { index, integer, primaryKey, real, sqliteTable, text, uniqueIndex } from 'drizzle-orm/sqlite-core'

export const households = sqliteTable('households', {
  id: text('id').primaryKey(),
  recordedAt: text('recorded_at').notNull(),
})

const householdId = () =>
  text('household_id')
    .notNull()
    .references(() => households.id)

export const people = sqliteTable(
  'people',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    name: text('name').notNull(),
    nameFolded: text('name_folded').notNull(),
    passwordHash: text('password_hash').notNull(),
    recordedAt: text('recorded_at').notNull(),
  },
  (table) => [uniqueIndex('people_by_name').on(table.nameFolded)],
)

const recordedBy = () =>
  text('recorded_by')
    .notNull()
    .references(() => people.id)

export const sessions = sqliteTable(
  'sessions',
  {
    tokenHash: text('token_hash').primaryKey(),
    householdId: householdId(),
    personId: text('person_id')
      .notNull()
      .references(() => people.id),
    formSecret: text('form_secret').notNull(),
    startedAt: text('started_at').notNull(),
    expiresAt: text('expires_at').notNull(),
  },
  (table) => [index('sessions_by_person').on(table.personId)],
)

export const vehicles = sqliteTable(
  'vehicles',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    name: text('name').notNull(),
    systemVoltage_V: real('system_voltage_v').notNull(),
    notes: text('notes').notNull(),
    recordedAt: text('recorded_at').notNull(),
    recordedBy: recordedBy(),
  },
  (table) => [index('vehicles_by_household').on(table.householdId)],
)

const vehicleId = () =>
  text('vehicle_id')
    .notNull()
    .references(() => vehicles.id)

export const entries = sqliteTable(
  'entries',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    vehicleId: vehicleId(),
    effectiveOn: text('effective_on').notNull(),
    placeId: text('place_id').notNull(),
    recordedAt: text('recorded_at').notNull(),
    recordedBy: recordedBy(),
    title: text('title').notNull(),
    text: text('text').notNull(),
    odometer_km: real('odometer_km'),
    cost_minor: integer('cost_minor'),
    correctsId: text('corrects_id').references((): AnySQLiteColumn => entries.id),
    correction: text('correction', { enum: ['withdrawn', 'replaced'] }),
    onceKey: text('once_key'),
    shown: text('shown'),
  },
  (table) => [
    index('entries_by_vehicle').on(table.vehicleId, table.effectiveOn, table.placeId),
    uniqueIndex('entries_once').on(table.householdId, table.onceKey),
    index('entries_by_correction').on(table.correctsId),
  ],
)

export const changes = sqliteTable(
  'changes',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    vehicleId: vehicleId(),
    entryId: text('entry_id')
      .notNull()
      .references(() => entries.id),
    position: integer('position').notNull(),
    kind: text('kind').notNull(),
    v: integer('v').notNull(),
    payload: text('payload').notNull(),
  },
  (table) => [uniqueIndex('changes_by_entry').on(table.entryId, table.position), index('changes_by_vehicle').on(table.vehicleId)],
)

export const parts = sqliteTable(
  'parts',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    kind: text('kind').notNull(),
    recordedAt: text('recorded_at').notNull(),
    recordedBy: recordedBy(),
  },
  (table) => [index('parts_by_household').on(table.householdId)],
)

const partId = () =>
  text('part_id')
    .notNull()
    .references(() => parts.id)

export const partRevisions = sqliteTable(
  'part_revisions',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    partId: partId(),
    name: text('name').notNull(),
    v: integer('v').notNull(),
    ratings: text('ratings').notNull(),
    evidence: text('evidence').notNull(),
    notes: text('notes').notNull(),
    recordedAt: text('recorded_at').notNull(),
    recordedBy: recordedBy(),
  },
  (table) => [
    index('part_revisions_by_part').on(table.partId, table.id),
    index('part_revisions_by_household').on(table.householdId, table.id),
  ],
)

export const stockCounts = sqliteTable(
  'stock_counts',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    partId: partId(),
    count: integer('count').notNull(),
    place: text('place'),
    recordedAt: text('recorded_at').notNull(),
    recordedBy: recordedBy(),
  },
  (table) => [index('stock_counts_by_part').on(table.partId, table.id)],
)

export const stockMoves = sqliteTable(
  'stock_moves',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    partId: partId(),
    entryId: text('entry_id')
      .notNull()
      .references(() => entries.id),
    byCount: integer('by_count').notNull(),
  },
  (table) => [index('stock_moves_by_part').on(table.partId, table.id), index('stock_moves_by_entry').on(table.entryId)],
)

export const projections = sqliteTable('projections', {
  vehicleId: text('vehicle_id')
    .primaryKey()
    .references(() => vehicles.id),
  householdId: householdId(),
  lastEntryId: text('last_entry_id').notNull(),
  partsDigest: text('parts_digest').notNull(),
  checkVersion: text('check_version').notNull(),
  stale: integer('stale').notNull(),
  document: text('document').notNull(),
  report: text('report').notNull(),
})

export const projectionParts = sqliteTable(
  'projection_parts',
  { vehicleId: vehicleId(), partId: partId(), householdId: householdId() },
  (table) => [primaryKey({ columns: [table.vehicleId, table.partId] }), index('projection_parts_by_part').on(table.partId)],
)
