/** A household in which every text that somebody can type is the same words: hostile ones, or harmless ones of the same length. */
import sharp from 'sharp'
import { makeToken } from '../../server/records/api-tokens.ts'
import { makeFeed } from '../../server/records/feeds.ts'
import { connectIdentity } from '../../server/records/identities.ts'
import { newId } from '../../server/records/ids.ts'
import { beginSession } from '../../server/records/sessions.ts'
import { value } from '../records/book.ts'
import { type Book, openBook } from './book.ts'

export type Worded = Awaited<ReturnType<typeof openWorded>>
type Program = (method: 'GET' | 'POST', url: string, body?: unknown) => Promise<{ statusCode: number; body: string; json: () => unknown }>

/** `texts`: for each a vehicle, its parts, its people and all around them. */
export async function openWorded(texts: readonly string[]) {
  const book = await openBook({ demo: false })
  const bearer = value(makeToken(book.db, book.clock, book.actor, { name: 'Program', scope: 'write', expiresOn: null })).token
  const program: Program = (method, url, body) => {
    const headers = { authorization: `Bearer ${bearer}`, 'content-type': 'application/json' }
    return book.app.inject({ method, url, headers, ...(body === undefined ? {} : { payload: JSON.stringify(body) }) })
  }
  const photo = await sharp({ create: { width: 60, height: 60, channels: 3, background: '#456' } })
    .jpeg()
    .toBuffer()
  const starts: string[] = []
  for (const [n, text] of texts.entries()) starts.push(...(await typedEverywhere(book, program, { text, photo, n })))
  const feeds = (['due', 'journal'] as const).map(
    (kind) => `/feeds/${value(makeFeed(book.db, book.clock, book.actor, { kind })).token}.${kind === 'due' ? 'ics' : 'atom'}`,
  )
  return { book, program, starts: [...starts, ...feeds] }
}

/** Answers addresses that lead to what was typed, or show it. */
async function typedEverywhere(
  book: Book,
  program: Program,
  { text, photo, n }: { readonly text: string; readonly photo: Buffer; readonly n: number },
): Promise<readonly string[]> {
  const most = (letters: number) => text.slice(0, letters)
  const made = async (url: string, body: unknown) => {
    const reply = await program('POST', url, body)
    if (reply.statusCode !== 201) throw new Error(`${url} answered ${reply.statusCode} to ${JSON.stringify(text)}: ${reply.body}`)
    return (reply.json() as { id: string }).id
  }
  const sent = async (url: string, fields: Readonly<Record<string, string>>) => {
    const reply = await book.post(url, fields)
    if (![200, 201, 303].includes(reply.statusCode)) throw new Error(`${url} answered ${reply.statusCode} to ${JSON.stringify(text)}`)
    return reply
  }
  const vehicle = await made('/api/vehicles', { name: text, systemVoltage_V: 12, notes: text })
  const V = `/vehicles/${vehicle}`
  const part = (kind: string, ratings: object) => made('/api/parts', { kind, name: text, ratings, notes: text })
  const [battery, chassis, fuse, wire, lamp] = [
    await part('battery', { nominal_V: 12, openCircuit_V: 12.7, internalResistance_ohm: 0.01, capacity_Ah: 70 }),
    await part('chassis', {}),
    await part('fuse', { rated_A: 10 }),
    await part('conductor', { material: 'copper', crossSection_mm2: 2.5, insulation: most(80) }),
    await part('load', { behaviour: 'current', current_A: 8 }),
  ]
  const fitted = (key: string, of: string, more: object = {}) => ({
    kind: 'fitted',
    component: { key, name: text, part: of, zone: 'bay', ...more },
  })
  const joined = (from: string, to: string) => ({ kind: 'joined', from, to })
  const wiring = {
    effectiveOn: '2026-11-20',
    title: text,
    text,
    changes: [
      { kind: 'described', zone: { key: 'bay', name: text, ambient_degC: 40 } },
      fitted('battery', battery),
      fitted('chassis', chassis),
      fitted('f1', fuse, { position: most(40), unfinished: text }),
      ...['w1', 'w2'].map((key) =>
        fitted(key, wire, { length_m: 1, number: most(40), fittings: { a: { terminal: most(80), tool: most(80) } } }),
      ),
      fitted('lamp', lamp),
      ...[joined('battery:-', 'chassis:1'), joined('battery:+', 'w1:a'), joined('w1:b', 'f1:in'), joined('f1:out', 'w2:a')],
      ...[joined('w2:b', 'lamp:+'), joined('lamp:-', 'chassis:2')],
      { kind: 'described', condition: { key: 'night', name: text, engine: 'off', on: ['lamp'] } },
      { kind: 'noted', component: 'f1', text },
      { kind: 'serviced', component: 'f1', text },
      { kind: 'measured', at: 'f1', quantity: 'voltage', value: 12 },
      { kind: 'due-set', key: 'look', what: text, component: 'f1', on: '2027-01-01' },
      { kind: 'unfinished', key: 'rest', components: ['lamp'], text },
      { kind: 'decided', component: 'f1', chosen: fuse, considered: [{ words: text, whyNot: text }], why: text },
    ],
  }
  const entry = await made(`/api${V}/entries`, wiring)
  await sent(`${V}/identity`, {
    ...{ make: most(80), model: most(80), year: most(20), vin: most(40), plate: most(20), keptAt: text },
  })
  await sent(`${V}/entries`, {
    verb: 'swapped',
    component: 'lamp',
    part: lamp,
    fate: 'failed',
    on: '2026-11-21',
    title: text,
    text,
    do: 'save',
  })
  await sent(`/parts/${fuse}/purchases`, { bought: '2026-11-20', pieces: '2', paid: '3', supplier: text })
  await sent(`/parts/${fuse}/counts`, { count: '4', place: text })
  await sent(`/parts/${wire}/leftovers`, { length: '2', kept: text })
  await sent(`/parts/${fuse}/revisions`, { name: text, rated_A: '10', 'grade-rated_A': 'marked' })
  const photos = await book.send(`${V}/photos`, { files: [{ name: text, bytes: photo }] })
  const shown = String(photos.headers.location)
  await sent(`${shown}/captions`, { caption: text, component: 'f1' })
  await sent(`${shown}/marks`, { mark: 'f1', x: '20', y: '20' })
  const pages = ['parts', 'wiring', 'fuses', 'journal', 'photos', 'readings', 'findings', 'costs']
  const ticks = [
    ...pages.map((page) => `page-${page}`),
    ...['vin', 'plate', 'prices', 'suppliers', 'places', 'names', 'addresses'].map((one) => `let-${one}`),
  ]
  const handed = await sent(`${V}/hand-over`, { chosen: 'yes', recipient: text, ...Object.fromEntries(ticks.map((tick) => [tick, 'yes'])) })
  const share = /http:\/\/localhost:80(\/b\/[\w-]+)/.exec(handed.body)?.[1] ?? ''
  await sent('/tokens', { name: text })
  await sent('/webhooks', { url: `https://hooks.example/${text.replaceAll(/\s/g, '')}` })
  const gone = await made('/api/vehicles', { name: text, systemVoltage_V: 12 })
  await sent(`/vehicles/${gone}/departures`, { how: 'sold', on: '2026-11-22', to: text })
  someone(book, text, n)
  return [share, entry === '' ? '' : `/entries/${entry}`, V, `/vehicles/${gone}`, shown, ...[fuse, wire, lamp].map((id) => `/parts/${id}`)]
}

/** Another owner of that name, with a device, a passkey and an account at a provider called so. */
function someone({ db, clock, actor }: Book, text: string, n: number): void {
  const person = { id: newId(clock), householdId: actor.householdId }
  const { householdId } = person
  db.$client
    .prepare(
      `INSERT INTO people (id, household_id, name, name_folded, role, password_hash, recorded_at)
       SELECT ?, ?, ?, ?, 'owner', password_hash, '2026-01-01' FROM people LIMIT 1`,
    )
    .run(person.id, householdId, text, `person ${n}`)
  const as = { householdId, personId: actor.personId, name: actor.name }
  beginSession(db, clock, { id: actor.personId, householdId }, { device: text, address: '' })
  value(
    connectIdentity(db, clock, as, { issuer: 'https://provider.example', subject: `s${n}`, email: null, isVerified: false, label: text }),
  )
  const insert =
    'INSERT INTO passkeys (id, household_id, person_id, credential_id, public_key, sign_count, transports, relying_party, name, recorded_at)'
  db.$client
    .prepare(`${insert} VALUES (?, ?, ?, ?, 'x', 0, '[]', 'localhost', ?, '2026-01-01')`)
    .run(newId(clock), householdId, actor.personId, `c${n}`, text.trim().slice(0, 80))
}

/** As the person of that name sees it: the name stands on top of every page. */
export function asNamed({ book }: Worded, n: number): (url: string) => ReturnType<Book['get']> {
  const row = book.db.$client.prepare('SELECT id, household_id AS householdId FROM people WHERE name_folded = ?').get(`person ${n}`)
  const cookie = `loombook_session=${beginSession(book.db, book.clock, row as { id: string; householdId: string }, { device: '', address: '' })}`
  return (url) => book.app.inject({ url, headers: { cookie } })
}
