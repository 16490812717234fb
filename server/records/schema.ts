/** Past 200 lines: every table in one place. The tables as drizzle sees them. The SQL of the migrations is what makes them; a test compares the two. */

import { eq, isNotNull } from 'drizzle-orm'
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
    role: text('role', { enum: ['owner', 'editor', 'viewer'] })
      .notNull()
      .default('owner'),
    disabledAt: text('disabled_at'),
    secondFactor: text('second_factor'),
    secondFactorStep: integer('second_factor_step'),
    email: text('email'),
    emailFolded: text('email_folded'),
  },
  (table) => [uniqueIndex('people_by_name').on(table.nameFolded), uniqueIndex('people_by_email').on(table.emailFolded)],
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
    device: text('device').notNull().default(''),
    address: text('address').notNull().default(''),
    lastUsedAt: text('last_used_at'),
    confirmedAt: text('confirmed_at'),
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
    index('entries_by_recording').on(table.vehicleId),
    index('entries_by_cost')
      .on(table.householdId, table.vehicleId, table.effectiveOn, table.cost_minor, table.correction, table.id)
      .where(isNotNull(table.cost_minor)),
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
  (table) => [
    uniqueIndex('changes_by_entry').on(table.entryId, table.position),
    index('changes_by_vehicle').on(table.vehicleId),
    index('changes_decided').on(table.householdId, table.vehicleId).where(eq(table.kind, 'decided')),
  ],
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

export const vehicleFacts = sqliteTable('vehicle_facts', {
  vehicleId: text('vehicle_id')
    .primaryKey()
    .references(() => vehicles.id),
  householdId: householdId(),
  name: text('name').notNull(),
  missing: text('missing').notNull(),
  facts: text('facts').notNull(),
})

export const projectionParts = sqliteTable(
  'projection_parts',
  { vehicleId: vehicleId(), partId: partId(), householdId: householdId() },
  (table) => [primaryKey({ columns: [table.vehicleId, table.partId] }), index('projection_parts_by_part').on(table.partId)],
)

export const photos = sqliteTable(
  'photos',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    vehicleId: text('vehicle_id').references(() => vehicles.id),
    /** the first version of the entry, so that a corrected entry keeps its photos */
    entryPlaceId: text('entry_place_id').references(() => entries.id),
    partId: text('part_id').references(() => parts.id),
    componentKey: text('component_key'),
    sha256: text('sha256').notNull(),
    type: text('type').notNull(),
    bytes: integer('bytes').notNull(),
    width_px: integer('width_px'),
    height_px: integer('height_px'),
    fileName: text('file_name').notNull(),
    caption: text('caption').notNull(),
    onceKey: text('once_key'),
    trashedAt: text('trashed_at'),
    recordedAt: text('recorded_at').notNull(),
    recordedBy: recordedBy(),
  },
  (table) => [
    index('photos_by_vehicle').on(table.vehicleId, table.id),
    index('photos_by_entry').on(table.entryPlaceId),
    index('photos_by_part').on(table.partId),
    index('photos_by_content').on(table.sha256),
    uniqueIndex('photos_once').on(table.householdId, table.onceKey),
    index('photos_in_trash').on(table.householdId, table.trashedAt, table.id).where(isNotNull(table.trashedAt)),
  ],
)

export const photoMarks = sqliteTable(
  'photo_marks',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    photoId: text('photo_id')
      .notNull()
      .references(() => photos.id),
    componentKey: text('component_key').notNull(),
    x: real('x').notNull(),
    y: real('y').notNull(),
    recordedAt: text('recorded_at').notNull(),
    recordedBy: recordedBy(),
  },
  (table) => [index('photo_marks_by_photo').on(table.photoId)],
)

export const purchases = sqliteTable(
  'purchases',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    partId: partId(),
    boughtOn: text('bought_on').notNull(),
    count: integer('count').notNull(),
    price_minor: integer('price_minor'),
    supplier: text('supplier').notNull(),
    recordedAt: text('recorded_at').notNull(),
    recordedBy: recordedBy(),
  },
  (table) => [index('purchases_by_part').on(table.partId, table.id)],
)

export const leftovers = sqliteTable(
  'leftovers',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    partId: partId(),
    length_m: real('length_m').notNull(),
    place: text('place').notNull(),
    usedAt: text('used_at'),
    recordedAt: text('recorded_at').notNull(),
    recordedBy: recordedBy(),
  },
  (table) => [index('leftovers_by_part').on(table.partId, table.id)],
)

export const feeds = sqliteTable(
  'feeds',
  {
    tokenHash: text('token_hash').primaryKey(),
    householdId: householdId(),
    vehicleId: text('vehicle_id').references(() => vehicles.id),
    kind: text('kind', { enum: ['due', 'journal'] }).notNull(),
    revokedAt: text('revoked_at'),
    lastUsedAt: text('last_used_at'),
    recordedAt: text('recorded_at').notNull(),
    recordedBy: recordedBy(),
  },
  (table) => [index('feeds_by_household').on(table.householdId)],
)

export const shares = sqliteTable(
  'shares',
  {
    id: text('id').primaryKey(),
    tokenHash: text('token_hash').notNull(),
    householdId: householdId(),
    vehicleId: vehicleId(),
    recipient: text('recipient').notNull(),
    shows: text('shows').notNull(),
    expiresAt: text('expires_at').notNull(),
    revokedAt: text('revoked_at'),
    lastUsedAt: text('last_used_at'),
    recordedAt: text('recorded_at').notNull(),
    recordedBy: recordedBy(),
  },
  (table) => [
    uniqueIndex('shares_by_token').on(table.tokenHash),
    index('shares_by_vehicle').on(table.vehicleId, table.id),
    index('shares_by_household').on(table.householdId),
  ],
)

/** The installation's own, of no household. */
export const jobs = sqliteTable('jobs', {
  name: text('name').primaryKey(),
  startedAt: text('started_at').notNull(),
  endedAt: text('ended_at'),
  result: text('result', { enum: ['done', 'failed'] }),
  says: text('says').notNull(),
  lastGoodAt: text('last_good_at'),
})

export const digests = sqliteTable(
  'digests',
  {
    tableName: text('table_name').notNull(),
    rowId: text('row_id').notNull(),
    householdId: householdId(),
    sha256: text('sha256').notNull(),
  },
  (table) => [primaryKey({ columns: [table.tableName, table.rowId] })],
)

export const changingDigests = sqliteTable(
  'changing_digests',
  {
    tableName: text('table_name').notNull(),
    rowId: text('row_id').notNull(),
    householdId: householdId(),
    sha256: text('sha256').notNull(),
  },
  (table) => [primaryKey({ columns: [table.tableName, table.rowId] })],
)

export const settings = sqliteTable(
  'settings',
  { householdId: householdId(), name: text('name').notNull(), value: text('value').notNull() },
  (table) => [primaryKey({ columns: [table.householdId, table.name] })],
)

export const searchRows = sqliteTable(
  'search_rows',
  {
    id: integer('id').primaryKey(),
    householdId: householdId(),
    kind: text('kind', { enum: ['entry', 'component', 'part', 'reading'] }).notNull(),
    refId: text('ref_id').notNull(),
    vehicleId: text('vehicle_id').references(() => vehicles.id),
    title: text('title').notNull(),
    body: text('body').notNull(),
  },
  (table) => [
    uniqueIndex('search_rows_by_ref').on(table.householdId, table.kind, table.refId),
    index('search_rows_by_vehicle').on(table.vehicleId, table.kind),
  ],
)

const personId = () =>
  text('person_id')
    .notNull()
    .references(() => people.id)

export const invitations = sqliteTable(
  'invitations',
  {
    tokenHash: text('token_hash').primaryKey(),
    householdId: householdId(),
    role: text('role', { enum: ['owner', 'editor', 'viewer'] }).notNull(),
    expiresAt: text('expires_at').notNull(),
    usedAt: text('used_at'),
    revokedAt: text('revoked_at'),
    recordedAt: text('recorded_at').notNull(),
    recordedBy: recordedBy(),
  },
  (table) => [index('invitations_by_household').on(table.householdId)],
)

export const signInTickets = sqliteTable(
  'sign_in_tickets',
  {
    tokenHash: text('token_hash').primaryKey(),
    householdId: householdId(),
    personId: personId(),
    expiresAt: text('expires_at').notNull(),
    tries: integer('tries').notNull(),
    isByOthers: integer('is_by_others', { mode: 'boolean' }).notNull().default(false),
  },
  (table) => [index('sign_in_tickets_by_person').on(table.personId)],
)

export const recoveryCodes = sqliteTable(
  'recovery_codes',
  { codeHash: text('code_hash').primaryKey(), householdId: householdId(), personId: personId(), usedAt: text('used_at') },
  (table) => [index('recovery_codes_by_person').on(table.personId)],
)

export const knownDevices = sqliteTable(
  'known_devices',
  {
    tokenHash: text('token_hash').primaryKey(),
    householdId: householdId(),
    personId: personId(),
    lastUsedAt: text('last_used_at').notNull(),
  },
  (table) => [index('known_devices_by_person').on(table.personId)],
)

export const passkeys = sqliteTable(
  'passkeys',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    personId: personId(),
    credentialId: text('credential_id').notNull(),
    publicKey: text('public_key').notNull(),
    signCount: integer('sign_count').notNull(),
    transports: text('transports').notNull(),
    relyingParty: text('relying_party').notNull(),
    name: text('name').notNull(),
    lastUsedAt: text('last_used_at'),
    recordedAt: text('recorded_at').notNull(),
  },
  (table) => [uniqueIndex('passkeys_by_credential').on(table.credentialId), index('passkeys_by_person').on(table.personId)],
)

export const identities = sqliteTable(
  'identities',
  {
    issuer: text('issuer').notNull(),
    subject: text('subject').notNull(),
    householdId: householdId(),
    personId: personId(),
    label: text('label').notNull(),
    lastUsedAt: text('last_used_at'),
    recordedAt: text('recorded_at').notNull(),
  },
  (table) => [primaryKey({ columns: [table.issuer, table.subject] }), index('identities_by_person').on(table.personId)],
)

export const passwordResets = sqliteTable(
  'password_resets',
  {
    tokenHash: text('token_hash').primaryKey(),
    householdId: householdId(),
    personId: personId(),
    expiresAt: text('expires_at').notNull(),
    usedAt: text('used_at'),
    recordedAt: text('recorded_at').notNull(),
  },
  (table) => [index('password_resets_by_person').on(table.personId)],
)

export const apiTokens = sqliteTable(
  'api_tokens',
  {
    tokenHash: text('token_hash').primaryKey(),
    householdId: householdId(),
    personId: personId(),
    name: text('name').notNull(),
    scope: text('scope', { enum: ['read', 'write'] }).notNull(),
    expiresAt: text('expires_at'),
    revokedAt: text('revoked_at'),
    lastUsedAt: text('last_used_at'),
    recordedAt: text('recorded_at').notNull(),
  },
  (table) => [index('api_tokens_by_household').on(table.householdId)],
)

export const idempotencyKeys = sqliteTable(
  'idempotency_keys',
  {
    householdId: householdId(),
    onceKey: text('once_key').notNull(),
    requestSha256: text('request_sha256').notNull(),
    status: integer('status').notNull(),
    body: text('body').notNull(),
    recordedAt: text('recorded_at').notNull(),
  },
  (table) => [primaryKey({ columns: [table.householdId, table.onceKey] })],
)

export const webhooks = sqliteTable(
  'webhooks',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    url: text('url').notNull(),
    secret: text('secret').notNull(),
    revokedAt: text('revoked_at'),
    recordedAt: text('recorded_at').notNull(),
    recordedBy: recordedBy(),
  },
  (table) => [index('webhooks_by_household').on(table.householdId)],
)

export const webhookDeliveries = sqliteTable(
  'webhook_deliveries',
  {
    id: text('id').primaryKey(),
    householdId: householdId(),
    webhookId: text('webhook_id')
      .notNull()
      .references(() => webhooks.id),
    eventKey: text('event_key').notNull(),
    body: text('body').notNull(),
    tries: integer('tries').notNull(),
    nextAt: text('next_at'),
    says: text('says').notNull(),
    recordedAt: text('recorded_at').notNull(),
  },
  (table) => [
    uniqueIndex('webhook_deliveries_once').on(table.webhookId, table.eventKey),
    index('webhook_deliveries_waiting').on(table.nextAt),
  ],
)

/** Of no household where nobody was signed in. */
export const securityEvents = sqliteTable(
  'security_events',
  {
    id: text('id').primaryKey(),
    householdId: text('household_id'),
    personId: text('person_id'),
    kind: text('kind').notNull(),
    says: text('says').notNull(),
    address: text('address').notNull(),
    recordedAt: text('recorded_at').notNull(),
  },
  (table) => [index('security_events_by_household').on(table.householdId, table.id)],
)
