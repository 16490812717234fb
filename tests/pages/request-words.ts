/** What requests at random are made of: addresses and fields that are there, and what is odd in a path, a header, a query or a body. */
import type { Address } from '../../server/decorations.ts'
import type { ApiBook } from '../api/book.ts'
import { addressesOf } from './book.ts'

/** Who asks: `no token` and `wrong token` are an owner's session, `foreign` one with a good token from another site. */
export type Who = 'nobody' | 'planted' | 'no token' | 'wrong token' | 'foreign' | 'viewer' | 'reads' | 'no program' | 'owner' | 'writes'
export type Sent = { method: string; url: string; headers: Record<string, string>; payload?: string | Buffer }
export type Known = { readonly ids: readonly string[]; readonly fields: readonly string[]; readonly values: readonly string[] }
export type Random = ReturnType<typeof randomFrom>
type Given = {
  readonly who: Who
  readonly route: Address
  readonly random: Random
  readonly known: Known
  readonly session: { readonly cookie: string; readonly token: string }
  readonly tokens: { readonly read: string; readonly write: string }
}

const METHODS = ['GET', 'POST', 'HEAD', 'PUT', 'PATCH', 'DELETE', 'OPTIONS', 'TRACE']
const ODD = [
  ...['', ' ', '0', '-1', '1e999', 'NaN', '0x10', '１２３', '1,234', '1.234,5', '9007199254740993', '-0', 'null', 'undefined', 'true'],
  ...['2026-02-30', '0000-00-00', '9999-12-31', '2026-11-24T25:61:61Z', '03/04/2026', '2024-02-29'],
  ...['<script>alert(1)</script>', '"><img src=x onerror=alert(1)>', '{{7*7}}', '${7*7}', 'javascript:alert(1)', '&#x6a;', '<div hx-get=/'],
  ...["O'Brien", '10-32', '-oil', 'col:x', '(', '*', 'NEAR(', 'a AND', '%', '_', '\\', '"', "'; DROP TABLE entries; --"],
  ...['../../etc/passwd', '..\\..\\x', '/abs', 'C:\\x', '//evil.example', '/\\evil.example', 'https://evil.example/', 'file:///etc/passwd'],
  ...['http://127.0.0.1/', 'http://2130706433/', 'http://[::1]/', '__proto__', 'constructor', 'prototype', 'toString', 'hasOwnProperty'],
  ...['\u0000', 'a\u0000b', '\ud800', '\u202Egnp.exe', 'Z\u200dW', '\r\nSet-Cookie: a=b', '\n{"level":60}', '🚐', 'é', 'e\u0301'],
  ...['a'.repeat(300), 'a'.repeat(20_000), ' '.repeat(3000), '['.repeat(2000), '>'.repeat(2000), '0190a000-0000-7000-8000-000000000001'],
]
const ODD_PATHS = [
  ...[
    '/%',
    '/%zz',
    '/%00',
    '/%c0%ae%c0%ae/',
    '//',
    '//evil.example/',
    '/..',
    '/../../etc/passwd',
    '/static/../package.json',
    '/static/%2e%2e/package.json',
  ],
  ...[
    '/static/..%2fpackage.json',
    '/.git/config',
    '/api',
    '/api/',
    '/api//vehicles',
    '/API/vehicles',
    '/vehicles/',
    '/vehicles//',
    '/?',
    '/?%',
    '/?a=%E0%A4%A',
  ],
  ...[
    `/${'a'.repeat(5000)}`,
    `/search?q=${'a'.repeat(10_000)}`,
    '/vehicles/__proto__',
    '/rules/constructor',
    '/feeds/x.ics',
    '/feeds/.atom',
    '/join/x',
    '/first-run',
  ],
]
const FOREIGN: readonly Record<string, string>[] = [
  { origin: 'https://evil.example' },
  { origin: 'null' },
  { origin: 'http://localhost.evil.example' },
  { origin: 'x' },
  { origin: '' },
  { 'sec-fetch-site': 'cross-site' },
]
const HEADERS: readonly Record<string, string>[] = [
  ...FOREIGN,
  { 'hx-request': 'true' },
  { 'hx-request': 'true', 'hx-target': '<script>', 'hx-current-url': 'https://evil.example/' },
  { 'hx-history-restore-request': 'true' },
  { accept: 'application/json' },
  { accept: 'text/html' },
  { accept: '*/*;q=x' },
  { host: 'evil.example' },
  { host: '' },
  { 'x-forwarded-for': '198.51.100.7', 'x-forwarded-proto': 'https', 'x-forwarded-host': 'evil.example' },
  { 'remote-user': 'Owner' },
  { 'x-http-method-override': 'DELETE' },
  { 'x-original-url': '/settings' },
  { 'user-agent': '\t{"level":60}' },
  { range: 'bytes=0-' },
  { range: 'bytes=9-1,x' },
  { 'if-none-match': '*' },
  { 'if-modified-since': 'never' },
  { 'accept-encoding': 'br;q=2, x' },
  { 'idempotency-key': 'one' },
  { 'idempotency-key': 'x'.repeat(400) },
  { 'x-form-token': 'x' },
  { expect: '100-continue' },
  { cookie: 'a=%; =; loombook_visitor=x; loombook_session=; loombook_device="' },
  { 'x-long': 'x'.repeat(8000) },
]
const TYPES = [
  'text/plain',
  'application/x-www-form-urlencoded',
  'application/json',
  'multipart/form-data; boundary=b',
  'multipart/form-data',
  'x',
]
const JSON_NAMES = [
  ...[
    'changes',
    'effectiveOn',
    'title',
    'kind',
    'component',
    'components',
    'part',
    'parts',
    'ratings',
    'name',
    'systemVoltage_V',
    'text',
    'at',
  ],
  ...['quantity', 'value', 'fate', 'from', 'format', 'vehicle', 'joins', 'zones', 'key', 'conditions', 'evidence', 'notes', 'odometer_km'],
]

export function requestFor(given: Given): Sent {
  const { who, random, known, session, tokens } = given
  const headers: Record<string, string> = {}
  for (let n = 0; n < 2; n++) if (random.chance(0.4)) Object.assign(headers, random.one(HEADERS))
  if (who === 'foreign') Object.assign(headers, random.one(FOREIGN))
  if (['no token', 'wrong token', 'foreign', 'viewer', 'owner'].includes(who)) headers.cookie = session.cookie
  if (who === 'planted')
    headers.cookie = `loombook_session=${encodeURIComponent(wellFormed(random.one(ODD).slice(0, 40)))}; loombook_visitor=x`
  if (who === 'reads') headers.authorization = `Bearer ${tokens.read}`
  if (who === 'writes') headers.authorization = `Bearer ${tokens.write}`
  if (who === 'no program') headers.authorization = random.one(['Bearer', `Bearer ${'x'.repeat(43)}`, `Basic ${tokens.write}`, 'x'])
  const word = () => (random.chance(0.8) ? random.one(known.ids) : random.one(ODD))
  const path = given.route.url.replaceAll(/:\w+|\*/g, () => encodeURIComponent(wellFormed(word())))
  const url = random.chance(0.03) ? random.one(ODD_PATHS) : `${path}${random.chance(0.4) ? `?${pairs(random, known)}` : ''}`
  const method = random.chance(0.85) ? given.route.method : random.one(METHODS)
  const sent: Sent = { method, url, headers }
  if (method === 'GET' || method === 'HEAD' || method === 'TRACE') return sent
  const token = who === 'wrong token' ? 'x'.repeat(43) : ['owner', 'viewer', 'foreign'].includes(who) ? session.token : ''
  if (token !== '' && random.chance(0.2)) headers['x-form-token'] = token
  return Object.assign(sent, bodyFor({ random, known, token, headers, isForPrograms: url.startsWith('/api/') }))
}

function bodyFor(given: {
  readonly random: Random
  readonly known: Known
  readonly token: string
  readonly headers: Record<string, string>
  readonly isForPrograms: boolean
}): { readonly payload?: string | Buffer } {
  const { random, known, token, headers } = given
  const kinds = ['form', 'form', 'form', 'form', 'json', 'files', 'bytes', 'none'] as const
  const kind = given.isForPrograms && random.chance(0.8) ? 'json' : random.one(kinds)
  if (kind === 'none') return {}
  if (kind === 'bytes') {
    headers['content-type'] = random.one(TYPES)
    return { payload: Buffer.from(Array.from({ length: random.below(300) }, () => random.below(256))) }
  }
  if (kind === 'json') {
    headers['content-type'] = 'application/json'
    return { payload: JSON.stringify(json(random, known, 0)) }
  }
  if (kind === 'files') {
    headers['content-type'] = 'multipart/form-data; boundary=b'
    const field = (name: string, value: string) => `--b\r\nContent-Disposition: form-data; name="${name}"\r\n\r\n${value}\r\n`
    const [name, file] = [random.one(['photo', 'archive', 'document', 'x']), random.one(['a.jpg', '../a', 'a.zip', '"; x="'])]
    const sent = `--b\r\nContent-Disposition: form-data; name="${name}"; filename="${file}"\r\n\r\n${random.one(known.values)}\r\n`
    return { payload: `${field('_token', token)}${field(random.one(known.fields), random.one(known.values))}${sent}--b--\r\n` }
  }
  headers['content-type'] = 'application/x-www-form-urlencoded'
  return { payload: `${token === '' ? '' : `_token=${token}&`}${pairs(random, known)}` }
}

function pairs(random: Random, known: Known): string {
  const pair = () => `${encodeURIComponent(random.one(known.fields))}=${encodeURIComponent(wellFormed(random.one(known.values)))}`
  return Array.from({ length: 1 + random.below(10) }, pair).join('&')
}

function json(random: Random, known: Known, depth: number): unknown {
  const kind = random.below(depth > 3 ? 4 : 6)
  if (kind < 2) return random.one(known.values)
  if (kind === 2) return random.one([0, -1, 1.5, 1e308, null, true, false, 12])
  if (kind === 3) return random.one(['described', 'fitted', 'swapped', 'noted', 'measured', 'joined', '2026-11-01'])
  if (kind === 4) return Array.from({ length: random.below(4) }, () => json(random, known, depth + 1))
  const names = [...known.fields, ...JSON_NAMES]
  return Object.fromEntries(Array.from({ length: random.below(8) }, () => [random.one(names), json(random, known, depth + 1)]))
}

/** An address cannot hold half a character. */
function wellFormed(text: string): string {
  return text.replaceAll(/\p{Cs}/gu, '\uFFFD')
}

/** Ids that are there, the name of every field of every form, and what stands in them, odd things beside. */
export async function knownWords(book: ApiBook): Promise<Known> {
  const ids = new Set(['r7', 'block', 'main-lead', 'battery', 'ghost', 'contact-load', 'grounds-2027', 'app.css', 'htmx.min.js'])
  const fields = new Set([
    'on',
    'condition',
    'page',
    'find',
    'q',
    'kind',
    'contains',
    'kept',
    'after',
    'limit',
    'next',
    'from',
    'to',
    'verdict',
  ])
  const values = new Set([...ODD, '2026-11-01', '12', 'relay', 'swapped', 'fitted', 'noted', 'voltage', 'block:1', 'r7:87', 'yes'])
  for (const address of Object.values(await addressesOf(book)).flatMap((those) => those.slice(0, 2))) {
    const { body } = await book.get(address)
    for (const [, id] of body.matchAll(/\/([0-9a-f]{8}-[0-9a-f-]{27})/g)) if (ids.size < 120) ids.add(id as string)
    for (const [, field] of body.matchAll(/ name="([^"_][^"]*)"/g)) fields.add(field as string)
    for (const [, value] of body.matchAll(/ value="([^"]{1,60})"/g)) if (values.size < 400) values.add(value as string)
  }
  for (const id of ids) values.add(id)
  return { ids: [...ids], fields: [...fields, '_at', '__proto__', 'constructor', 'role', 'household_id', 'id'], values: [...values] }
}

/** The same numbers for the same seed (mulberry32, common practice). */
export function randomFrom(seed: number) {
  let state = seed >>> 0
  const next = () => {
    state = (state + 0x6d2b79f5) >>> 0
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state)
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32
  }
  const below = (most: number) => Math.floor(next() * most)
  return { below, chance: (part: number) => next() < part, one: <T>(from: readonly T[]): T => from[below(from.length)] as T }
}
