/** B3, without a gap: every route that is told an id, and every field that holds one, with the other household's own of that kind. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { operations } from '../../server/api/operations.ts'
import { addressesOf } from './book.ts'
import { type FormOf, formsOf } from './forms-of.ts'
import { type Household, openTwo, type Things } from './two-households.ts'

type Kind = keyof Things
let two: Awaited<ReturnType<typeof openTwo>>
/** What the second household calls its own, and what the first has instead: both were furnished alike. */
let counterparts: ReadonlyMap<string, string>
let known: ReadonlySet<string>
beforeAll(async () => {
  two = await openTwo()
  counterparts = pairs()
  known = new Set([...counterparts].flat())
}, 60_000)
afterAll(() => two.book.close())

/** What each name in an address stands for, by the address up to it; for programs and for people alike. */
const KIND_AT: Readonly<Record<string, Kind>> = {
  '/vehicles/:id': 'vehicle',
  '/vehicles/:id/components/:key': 'component',
  '/vehicles/:id/due/:key': 'due',
  '/vehicles/:id/unfinished/:key': 'unfinished',
  '/vehicles/:id/findings/:rule': 'rule',
  '/vehicles/:id/findings/:rule/:component': 'component',
  '/vehicles/:id/fuse-box/:box': 'box',
  '/vehicles/:id/hand-over/:share': 'share',
  '/vehicles/:id/hand-over/preview/:page': 'page',
  '/vehicles/:id/hand-over/preview/p/:file': 'bare file',
  '/entries/:id': 'entry',
  '/parts/:id': 'part',
  '/photos/:id': 'photo',
  '/photos/:id/marks/:mark': 'mark',
  '/trash/photos/:id': 'trashed photo',
  '/people/:id': 'person',
  '/people/invitations/:id': 'invitation',
  '/account/passkeys/:id': 'passkey',
  '/account/identities/:id': 'identity',
  '/account/sessions/:id': 'session',
  '/tokens/:id': 'token',
  '/webhooks/:id': 'webhook',
}
/** What no household owns, with why: nothing there is told from whose it is. */
const OF_NOBODY: Readonly<Record<string, string>> = {
  '/feeds/:address': 'a secret: who has it may read',
  '/join/:token': 'a secret: who has it may join',
  '/new-password/:token': 'a secret: who has it may set the password',
  '/b/*': 'a secret: who has it may read',
  '/static/*': 'files of the program',
  '/rules/:rule': 'the program’s own words',
  '/settings/backups/:name': 'a backup holds the whole installation',
}
/** Those that are ids of their own, and not words that mean something only within a vehicle. */
const IDS: readonly Kind[] = ['share', 'mark']

const readBy = (url: string) => url.replace(/^\/api/, '')
const paramsOf = (url: string) =>
  [...readBy(url).matchAll(/:\w+|\*/g)].map((found) => ({ name: found[0], upTo: readBy(url).slice(0, found.index + found[0].length) }))
const routes = () => two.book.app.answered.filter(({ method, url }) => method !== 'HEAD' && /[:*]/.test(url))
const owned = () => routes().filter(({ url }) => paramsOf(url).every(({ upTo }) => KIND_AT[upTo] !== undefined))
const placed = (url: string, things: Things) =>
  paramsOf(url).reduce((so, { name, upTo }) => so.replace(name, things[KIND_AT[upTo] as Kind]), url)

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/
/** Of the same shape, and of nobody: as long, so that an answer that shows it is as long. */
const nobodys = (thing: string) =>
  UUID.test(thing) ? `01900000${thing.slice(8)}` : thing.replaceAll(/[a-z0-9]/g, (letter) => (/[a-z]/.test(letter) ? 'e' : '9'))
const ofNobody = (things: Things) => Object.fromEntries(Object.entries(things).map(([kind, thing]) => [kind, nobodys(thing)])) as Things

/** Enough for most forms to be carried out; each reads what it asks for. */
const FIELDS = {
  ...{ on: '2026-11-20', title: 'Mine', text: 'Seen', name: 'Mine', do: 'save', verb: 'noted', what: 'Grounds', why: 'So', count: '3' },
  ...{ role: 'editor', access: 'closed', email: 'mine@home.example', caption: 'Mine', mark: 'r7', x: '10', y: '10', bought: '2026-11-20' },
  ...{ pieces: '2', length: '1', recipient: 'Buyer', plate: 'MINE 1', 'name-0': 'Mine', systemVoltage_V: '12', component: 'r7' },
  ...{ from: 'block:1', rows: '0', components: 'r7' },
}

/** A path is one to a load. */
const thingsFor = ({ url }: { readonly url: string }, { things }: Household): Things =>
  url.endsWith('/path') ? { ...things, component: 'fuel-pump' } : url.endsWith('/leftover-cuts') ? { ...things, part: things.wire } : things

/** What else some ask for by name. */
const NAMED: Readonly<Record<string, (things: Things) => Readonly<Record<string, string>>>> = {
  '/vehicles/:id/components/:key/path': () => ({ from: 'block:4' }),
  '/vehicles/:id/finished': ({ unfinished }) => ({ key: unfinished }),
  '/vehicles/:id/due-done': ({ due }) => ({ key: due }),
  '/vehicles/:id/due-drops': ({ due }) => ({ key: due }),
  '/parts/:id/purchase-removals': ({ purchase }) => ({ purchase }),
  '/parts/:id/leftover-cuts': ({ leftover }) => ({ piece: leftover, used: 'yes' }),
}

async function sent(who: Household, route: { readonly method: string; readonly url: string }, things: Things) {
  const url = placed(route.url, things)
  const named = NAMED[route.url]?.(things) ?? {}
  if (route.url.startsWith('/api/')) {
    const operation = operations.find(({ method, path }) => method === route.method && `/api${path}` === route.url)
    return who.askByProgram(route.method, url, operation?.example)
  }
  if (route.method === 'GET') return who.get(`${url}?${new URLSearchParams(named)}`)
  return route.url.endsWith('/photos') ? who.sendPhoto(url, PICTURE) : who.post(url, { ...FIELDS, ...named })
}
const PICTURE = Buffer.from(
  '89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de0000000c4944415478da6360000000020001e221bc330000000049454e44ae426082',
  'hex',
)

const ID = /^[0-9a-f-]{16,}$/

/** As if it had never been asked. */
async function undone<T>(work: () => Promise<T>): Promise<T> {
  const { $client } = two.book.db
  $client.exec('BEGIN')
  try {
    return await work()
  } finally {
    $client.exec('ROLLBACK')
  }
}

/** An answer without what differs each time: the ids asked with and those made, the number of the request, a form's token, a made secret. */
function told(reply: Awaited<ReturnType<typeof sent>>, ids: readonly string[]) {
  const without = (text: string) =>
    ids
      .filter((id) => ID.test(id))
      .reduce((so, id) => so.replaceAll(id, 'ID'), text)
      .replaceAll(/[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}/g, (id) => (known.has(id) ? id : 'NEW'))
      .replaceAll(/name="(_token|once)" value="[^"]*"/g, '')
      .replaceAll(/\b([0-9a-f]{12}|[0-9a-f]{16})\b/g, '')
      .replaceAll(/[\w-]{43,}/g, '')
  const { location = '', 'content-type': type = '', 'content-disposition': disposition = '' } = reply.headers
  return { status: reply.statusCode, location: without(String(location)), type, disposition, body: without(reply.body) }
}

function pairs(): ReadonlyMap<string, string> {
  const { book, first, second } = two
  const rows = (table: string, { actor }: Household) =>
    book.db.$client.prepare(`SELECT id FROM ${table} WHERE household_id = ? ORDER BY id`).pluck().all(actor.householdId) as string[]
  const found = new Map<string, string>()
  for (const table of ['vehicles', 'parts', 'entries', 'people', 'stock_counts'])
    for (const [n, id] of rows(table, second).entries()) found.set(id, rows(table, first)[n] ?? '')
  for (const kind of Object.keys(second.things) as Kind[])
    if (ID.test(second.things[kind])) found.set(second.things[kind], first.things[kind])
  return new Map([...found].filter(([, other]) => other !== ''))
}

/** Every row of that household, but for what only notes that somebody came by. */
function rowsOf(who: Household): readonly (readonly [table: string, rows: string])[] {
  const { $client } = two.book.db
  const tables = $client
    .prepare(
      "SELECT m.name FROM sqlite_schema m, pragma_table_info(m.name) c WHERE m.type = 'table' AND c.name = 'household_id' ORDER BY 1",
    )
    .pluck()
    .all() as string[]
  return tables
    .filter((name) => !['security_events', 'projections', 'projection_parts', 'vehicle_facts'].includes(name))
    .map((name) => [name, JSON.stringify($client.prepare(`SELECT * FROM ${name} WHERE household_id = ?`).all(who.actor.householdId))])
}

test('every name in the address of every route is in one of the two tables, and neither holds one that is not answered', () => {
  const known = new Set(routes().flatMap(({ url }) => paramsOf(url).map(({ upTo }) => upTo)))
  expect(known.size).toBeGreaterThan(25)
  expect([...known].sort()).toEqual([...Object.keys(KIND_AT), ...Object.keys(OF_NOBODY)].sort())
  expect(owned().length).toBe(routes().filter(({ url }) => OF_NOBODY[paramsOf(url)[0]?.upTo ?? ''] === undefined).length)
})

test('these ids are the first household’s own: to its owner no route answers that there is no such thing', async () => {
  const { first } = two
  const amiss: string[] = []
  for (const route of owned()) {
    const { statusCode } = await undone(() => sent(first, route, thingsFor(route, first)))
    if (statusCode === 404 || statusCode >= 500) amiss.push(`${route.method} ${route.url}: ${statusCode}`)
  }
  expect(amiss).toEqual([])
}, 120_000)

test('B3: to another household every route answers as for an id that never was, and not a row is another', async () => {
  const { first, second } = two
  const before = rowsOf(first)
  const none = ofNobody(first.things)
  expect(owned().length).toBeGreaterThan(110)
  for (const route of owned()) {
    const name = `${route.method} ${route.url}`
    const theirs = await sent(second, route, first.things)
    const nobody = await sent(second, route, { ...none, ...wordsOf(first.things) })
    expect(theirs.statusCode, name).toBe(404)
    expect(told(theirs, Object.values(first.things)), name).toEqual(told(nobody, Object.values(none)))
  }
  expect(rowsOf(first)).toEqual(before)
}, 120_000)

test('B3: nor is it reached by way of what is one’s own', async () => {
  const { first, second } = two
  const before = rowsOf(first)
  const inside = owned().filter(({ url }) => paramsOf(url).length > 1 && IDS.includes(KIND_AT[paramsOf(url).at(-1)?.upTo ?? ''] as Kind))
  expect(inside.map(({ url }) => url).sort()).toEqual(['/photos/:id/marks/:mark/removals', '/vehicles/:id/hand-over/:share/revocations'])
  for (const route of inside) {
    const kind = KIND_AT[paramsOf(route.url).at(-1)?.upTo ?? ''] as Kind
    const send = (id: string) => sent(second, route, { ...second.things, [kind]: id })
    const [theirs, nobody] = [await send(first.things[kind]), await send(nobodys(first.things[kind]))]
    expect(theirs.statusCode, route.url).toBe(404)
    expect(told(theirs, [first.things[kind]]), route.url).toEqual(told(nobody, [nobodys(first.things[kind])]))
  }
  expect(rowsOf(first)).toEqual(before)
})

/** What within a vehicle is only a word, the same in any. */
function wordsOf(things: Things): Partial<Things> {
  return Object.fromEntries(Object.entries(things).filter(([kind]) => WORDS.includes(kind as Kind)))
}
const WORDS: readonly Kind[] = ['component', 'due', 'unfinished', 'rule', 'box', 'page', 'bare file']

describe('B3: in fields, and in what stands behind the ? of an address', () => {
  let pages: readonly string[]
  const bodies = new Map<string, string>()
  beforeAll(async () => {
    const { book, second } = two
    const theirs = { ...book, ...second, send: (url: string, { files: [file] }: Sending) => second.sendPhoto(url, file?.bytes as Buffer) }
    pages = Object.values(await addressesOf(theirs as never)).flatMap((those) => those.slice(0, 2))
    for (const url of pages) bodies.set(url, (await second.get(url)).body)
  }, 60_000)

  test('each id in a form of one’s own, changed for the other household’s of that kind, is answered as one that never was', async () => {
    const before = rowsOf(two.first)
    const forms = formsWithIds()
    let [tried, done, refused] = [0, 0, 0]
    for (const form of forms) {
      const own = Object.fromEntries(form.fields.filter(({ name }) => name !== '_token').map((one) => [one.name, one.value]))
      const send = (changed: Readonly<Record<string, string>>) =>
        undone(() => two.second.post(form.action, { ...filled(form), ...changed }))
      const usual = (await send({})).statusCode
      if (usual < 400) done += 1
      for (const { name } of form.fields) {
        const mine = idsIn(own[name] ?? '')
        if (name.startsWith('_') || name === 'once' || mine.length === 0) continue
        const as = (of: (id: string) => string) => mine.reduce((so, id) => so.replaceAll(id, of(id)), own[name] ?? '')
        const [theirs, nobody] = [await send({ [name]: as((id) => counterparts.get(id) as string) }), await send({ [name]: as(nobodys) })]
        const ids = mine.map((id) => counterparts.get(id) as string)
        expect(told(theirs, ids), `${form.action} ${name}`).toEqual(told(nobody, mine.map(nobodys)))
        tried += 1
        if (usual < 400 && theirs.statusCode >= 400) refused += 1
      }
    }
    // Neither all refused nor all let through: then nothing would have been tried.
    expect([tried >= 10, done >= 4, refused >= 4]).toEqual([true, true, true])
    expect(rowsOf(two.first)).toEqual(before)
  }, 120_000)

  // Fields that some form or script of ours fills with an id, sent to every address: also where no form of the page has them.
  const ASKED: Readonly<Record<string, Kind>> = {
    ...{ part: 'part', parts: 'part', photos: 'photo', vehicle: 'vehicle', feed: 'feed', piece: 'leftover', purchase: 'purchase' },
    ...{
      like: 'entry',
      failed: 'vehicle',
      chosen: 'part',
      considered: 'part',
      with: 'part',
      before: 'photo',
      share: 'share',
      entry: 'entry',
    },
  }
  /** Where each is sent by itself too, since one that is refused may hide another. */
  const READ_IDS = [
    ...['/feeds', '/feeds/revocations', '/vehicles/:id/entries', '/vehicles/:id/entry-previews', '/entries/:id/corrections'],
    ...['/vehicles/:id/decisions', '/vehicles/:id/hand-over', '/parts/:id/inspections', '/vehicles/:id/chains', '/vehicles/:id/fuse-box'],
  ]
  /** What ends a session, takes files or long work, or lists secrets in the order of their hashes; none of it reads an id. */
  const ENDS_OR_LISTS = 'account/(passwords|second-factor|sessions/ends)|tokens$|people/invitations$'
  const OTHERWISE = new RegExp(`^/(sessions|first-run|settings|archive|demonstration|confirm|${ENDS_OR_LISTS})`)
  test('sent to every address that writes, a field with the other household’s id is answered as one that never was', async () => {
    const { first, second } = two
    const before = rowsOf(first)
    const verbs = ['swapped', 'fitted', 'noted']
    let [tried, read] = [0, 0]
    const compare = async (route: (typeof writes)[number], fields: readonly (readonly [string, Kind])[], verb: string) => {
      const url = placed(route.url, thingsFor(route, second))
      const send = (of: (kind: Kind) => string) => {
        const asked = fields.flatMap(([field, kind]) => [[field, of(kind)] as const, [`without-${of(kind)}`, 'yes'] as const])
        return undone(() => second.post(url, { ...FIELDS, ...NAMED[route.url]?.(second.things), verb, ...Object.fromEntries(asked) }))
      }
      const [theirs, nobody] = [await send((kind) => first.things[kind]), await send((kind) => nobodys(first.things[kind]))]
      const ids = fields.map(([, kind]) => first.things[kind])
      expect(told(theirs, ids), `${route.url} ${fields}`).toEqual(told(nobody, ids.map(nobodys)))
      tried += 1
      if (fields.length === 1 && (await send((kind) => second.things[kind])).statusCode !== theirs.statusCode) read += 1
    }
    const writes = two.book.app.answered.filter(
      ({ method, url }) =>
        method === 'POST' && !url.startsWith('/api/') && !OTHERWISE.test(url) && !OF_NOBODY[paramsOf(url)[0]?.upTo ?? ''],
    )
    for (const route of writes) await compare(route, Object.entries(ASKED), 'noted')
    for (const route of writes.filter(({ url }) => READ_IDS.includes(url)))
      for (const field of Object.entries(ASKED))
        for (const verb of route.url.endsWith('/entries') ? verbs : ['noted']) await compare(route, [field], verb)
    expect(tried).toBeGreaterThan(200)
    // One's own id in the same field is answered otherwise.
    expect(read).toBeGreaterThan(3)
    expect(rowsOf(first)).toEqual(before)
  }, 120_000)

  test('each id in the query of a link of one’s own, and those a page may be asked with, likewise', async () => {
    const { second } = two
    const links = new Set(
      [...bodies.values()].flatMap((body) => [...body.matchAll(/href="(\/[^"#]+\?[^"#]+)/g)].map((one) => readable(one[1]))),
    )
    let tried = 0
    const compare = async (url: string, ids: readonly string[]) => {
      const [path = '', query = ''] = url.split('?')
      const as = (of: (id: string) => string) => `${path}?${ids.reduce((so, id) => so.replaceAll(id, of(id)), query)}`
      const [theirs, nobody] = [await second.get(as((id) => counterparts.get(id) as string)), await second.get(as(nobodys))]
      const of = ids.map((id) => counterparts.get(id) as string)
      expect(told(theirs, of), url).toEqual(told(nobody, ids.map(nobodys)))
      tried += 1
    }
    for (const link of links) {
      const ids = idsIn(link.split('?')[1] ?? '')
      if (ids.length > 0) await compare(link, ids)
    }
    expect(tried).toBeGreaterThan(10)
    // Pages of the account hold a secret made for each asking.
    for (const url of new Set(pages.map((one) => one.split('?')[0] as string).filter((one) => !/^\/(account|confirm)/.test(one))))
      await compare(
        `${url}?${new URLSearchParams(Object.entries(ASKED).map(([field, kind]): [string, string] => [field, second.things[kind]]))}`,
        [...new Set(Object.values(ASKED).map((kind) => second.things[kind]))],
      )
  }, 120_000)

  type Sending = { readonly files: readonly { readonly bytes: Buffer }[] }
  const readable = (text = '') => text.replaceAll('&amp;', '&')
  const idsIn = (text: string) => [...counterparts.keys()].filter((id) => text.includes(id))

  function formsWithIds(): readonly FormOf[] {
    const forms = new Map<string, FormOf>()
    for (const form of [...bodies.values()].flatMap(formsOf)) {
      const name = [form.action, ...form.fields.map((field) => field.name)].join().replaceAll(/[0-9a-f-]{16,}/g, ':id')
      if (form.fields.some(({ name, value }) => !name.startsWith('_') && name !== 'once' && idsIn(value).length > 0)) forms.set(name, form)
    }
    return [...forms.values()]
  }
  const filled = (form: FormOf) =>
    Object.fromEntries(
      form.fields
        .filter(({ name }) => !name.startsWith('_') && name !== 'once')
        .map((one) => [one.name, one.value === '' ? ((FIELDS as Readonly<Record<string, string>>)[one.name] ?? '') : one.value]),
    )
})
