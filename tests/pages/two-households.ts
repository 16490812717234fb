/** Two households of one installation, furnished alike: of everything that an address or a field can name, each has one of its own. */
import sharp from 'sharp'
import { makeToken, tokensOf } from '../../server/records/api-tokens.ts'
import type { Actor } from '../../server/records/contract.ts'
import { loadDemo } from '../../server/records/demo/index.ts'
import { feedsOf, makeFeed } from '../../server/records/feeds.ts'
import { identitiesOf } from '../../server/records/identities.ts'
import { newId } from '../../server/records/ids.ts'
import { invite, openInvitations } from '../../server/records/people.ts'
import { beginSession, sessionsOf } from '../../server/records/sessions.ts'
import { makeShare } from '../../server/records/shares.ts'
import { addWebhook } from '../../server/records/webhooks.ts'
import { value } from '../records/book.ts'
import { type Book, openBook, tokenIn } from './book.ts'

/** One thing of each kind, by what an address names it. */
export type Things = Readonly<Record<(typeof KINDS)[number], string>>
export const KINDS = [
  ...['vehicle', 'entry', 'part', 'wire', 'photo', 'trashed photo', 'mark', 'person', 'invitation', 'passkey', 'identity', 'session'],
  ...['token', 'webhook', 'feed', 'share', 'bare file', 'purchase', 'leftover', 'component', 'due', 'unfinished', 'rule', 'box', 'page'],
] as const
export type Household = Awaited<ReturnType<typeof asking>> & {
  readonly actor: Actor
  readonly vehicles: readonly string[]
  readonly things: Things
}

export async function openTwo(): Promise<{ readonly book: Book; readonly first: Household; readonly second: Household }> {
  const book = await openBook()
  const stranger = addOwner(book, 'Stranger')
  const second = value(loadDemo(book.db, book.clock, stranger)).vehicleIds
  return { book, first: await furnished(book, book.actor, book.vehicles), second: await furnished(book, stranger, second) }
}

/** An owner of a household of its own. */
function addOwner({ db, clock }: Book, name: string): Actor {
  const actor = { householdId: newId(clock), personId: newId(clock), name, role: 'owner' } as const
  db.$client.prepare("INSERT INTO households (id, recorded_at) VALUES (?, '2026-01-01')").run(actor.householdId)
  addPerson(db, actor, { id: actor.personId, name, role: 'owner' })
  return actor
}

function addPerson(db: Book['db'], actor: Actor, given: { readonly id: string; readonly name: string; readonly role: string }): string {
  const { id, name, role } = given
  db.$client
    .prepare(
      `INSERT INTO people (id, household_id, name, name_folded, role, password_hash, recorded_at)
       SELECT ?, ?, ?, ?, ?, password_hash, '2026-01-01' FROM people LIMIT 1`,
    )
    .run(id, actor.householdId, name, name.toLowerCase(), role)
  return id
}

/** Somebody's own browser, signed in, and a program of theirs. */
async function asking(book: Book, actor: Actor) {
  const { app, db, clock } = book
  const session = beginSession(db, clock, { id: actor.personId, householdId: actor.householdId }, { device: '', address: '' })
  const cookie = `loombook_session=${session}`
  const bearer = value(makeToken(db, clock, actor, { name: 'Program', scope: 'write', expiresOn: null })).token
  const token = tokenIn((await app.inject({ url: '/rules', headers: { cookie } })).body)
  const get = (url: string) => app.inject({ url, headers: { cookie } })
  const post = (url: string, fields: Readonly<Record<string, string>>) =>
    app.inject({
      method: 'POST',
      url,
      headers: { cookie, 'content-type': 'application/x-www-form-urlencoded' },
      payload: new URLSearchParams({ _token: token, ...fields }).toString(),
    })
  const sendPhoto = (url: string, bytes: Buffer) => {
    const form = new FormData()
    form.append('_token', token)
    form.append('photo', new Blob([new Uint8Array(bytes)], { type: 'image/jpeg' }), 'box.jpg')
    return app.inject({ method: 'POST', url, headers: { cookie }, payload: form as never })
  }
  const askByProgram = (method: string, url: string, body: unknown) =>
    app.inject({
      ...{ method: method as 'GET', url, headers: { authorization: `Bearer ${bearer}`, 'content-type': 'application/json' } },
      ...(method === 'POST' ? { payload: JSON.stringify(body) } : {}),
    })
  return { get, post, sendPhoto, askByProgram, token }
}

async function furnished(book: Book, actor: Actor, vehicles: readonly string[]): Promise<Household> {
  const { db, clock } = book
  const { householdId, personId, name } = actor
  const ask = await asking(book, actor)
  const [vehicle = ''] = vehicles
  const V = `/vehicles/${vehicle}`
  const one = (sql: string, ...given: readonly string[]) =>
    String(
      db.$client
        .prepare(sql)
        .pluck()
        .get(householdId, ...given),
    )
  const part = one("SELECT id FROM parts WHERE household_id = ? AND kind = 'relay'")
  const wire = one("SELECT id FROM parts WHERE household_id = ? AND kind = 'conductor'")
  const photo = lastOf((await ask.sendPhoto(`${V}/photos`, await picture(name.length))).headers.location)
  const trashed = lastOf((await ask.sendPhoto(`${V}/photos`, await picture(name.length + 100))).headers.location)
  await ask.post(`/photos/${trashed}/trash`, {})
  await ask.post(`/photos/${photo}/marks`, { mark: 'r7', x: '50', y: '50' })
  await ask.post(`/parts/${part}/purchases`, { bought: '2026-11-01', pieces: '2', paid: '9' })
  await ask.post(`/parts/${wire}/leftovers`, { length: '2', kept: 'Drawer' })
  await ask.post(`${V}/unfinished`, { components: 'battery', text: `Lead moved by ${name}` })
  const unfinished = /\/unfinished\/([^"]+)"/.exec((await ask.get(V)).body)?.[1] ?? ''
  value(makeFeed(db, clock, actor, { kind: 'due' }))
  value(invite(db, clock, actor, 'viewer'))
  value(addWebhook(db, clock, actor, { url: `https://${name.toLowerCase()}.example/told`, faultOf: () => null }))
  const shows = { v: 1, pages: ['photos'], lets: [], journalFrom: null, withoutPhotos: [] } as const
  const share = value(makeShare(db, clock, actor, { vehicleId: vehicle, recipient: 'Buyer', expiresOn: '2027-01-01', shows }))
  const passkey = newId(clock)
  db.$client
    .prepare(
      `INSERT INTO passkeys (id, household_id, person_id, credential_id, public_key, sign_count, transports, relying_party, name, recorded_at)
       VALUES (?, ?, ?, ?, 'x', 0, '[]', 'localhost', 'Key', '2026-01-01')`,
    )
    .run(passkey, householdId, personId, passkey)
  db.$client
    .prepare(
      `INSERT INTO identities (issuer, subject, household_id, person_id, label, recorded_at)
       VALUES ('https://provider.example', ?, ?, ?, 'Account', '2026-01-01')`,
    )
    .run(personId, householdId, personId)
  const bare = (await ask.get(`${V}/hand-over/preview/photos?chosen=yes&page-photos=yes`)).body
  const things: Things = {
    vehicle,
    entry: one('SELECT e.id FROM entries e WHERE e.household_id = ? AND e.vehicle_id = ?', vehicle),
    part,
    wire,
    photo,
    'trashed photo': trashed,
    mark: one('SELECT id FROM photo_marks WHERE household_id = ?'),
    person: addPerson(db, actor, { id: newId(clock), name: `${name} II`, role: 'viewer' }),
    invitation: openInvitations(db, clock, actor)[0]?.id ?? '',
    passkey,
    identity: identitiesOf(db, actor)[0]?.id ?? '',
    session: sessionsOf(db, actor, '')[0]?.id ?? '',
    token: tokensOf(db, clock, actor)[0]?.id ?? '',
    webhook: one('SELECT id FROM webhooks WHERE household_id = ?'),
    feed: feedsOf(db, actor)[0]?.id ?? '',
    share: share.id,
    'bare file': /\/preview\/p\/([^"?]+)/.exec(bare)?.[1] ?? '',
    purchase: one('SELECT id FROM purchases WHERE household_id = ?'),
    leftover: one('SELECT id FROM leftovers WHERE household_id = ?'),
    component: 'main-lead',
    due: 'grounds-2027',
    unfinished,
    rule: /findings\/([a-z-]+)\/main-lead/.exec((await ask.get(`${V}/components/main-lead`)).body)?.[1] ?? '',
    box: 'block',
    page: 'photos',
  }
  for (const [kind, thing] of Object.entries(things)) if (thing === '' || thing === 'undefined') throw new Error(`${name} has no ${kind}`)
  return { ...ask, actor, vehicles, things }
}

async function picture(side_px: number): Promise<Buffer> {
  return sharp({ create: { width: 60 + side_px, height: 60, channels: 3, background: '#456' } })
    .jpeg()
    .toBuffer()
}

function lastOf(location: unknown): string {
  return String(location).split('/').at(-1) ?? ''
}
