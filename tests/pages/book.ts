/** Loombook with an owner signed in and the demonstration vehicles, asked without a network. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { FastifyInstance } from 'fastify'
import sharp from 'sharp'
import { buildApp } from '../../server/app.ts'
import type { Config } from '../../server/config.ts'
import { rules } from '../../server/engine/rules/index.ts'
import { registerPages } from '../../server/pages/index.ts'
import { makeBackup } from '../../server/records/backup.ts'
import { type Clock, fixedClock } from '../../server/records/clock.ts'
import type { Actor } from '../../server/records/contract.ts'
import { type Db, openDatabase } from '../../server/records/database.ts'
import { loadDemo } from '../../server/records/demo/index.ts'
import { makePasswordLink } from '../../server/records/password-links.ts'
import { partsById } from '../../server/records/part-rows.ts'
import { createOwner } from '../../server/records/people.ts'
import { reportOn } from '../../server/records/projection.ts'

export const PASSWORD = 'a long enough word'
export const TODAY = '2026-11-25'

/** `data` is a folder to live in, for the database too; otherwise that is held in memory. */
export async function openBook(
  given: {
    readonly demo?: boolean
    readonly timeZone?: string
    readonly clock?: Clock
    readonly data?: string
    readonly config?: Partial<Config>
  } = {},
) {
  const db: Db = openDatabase(given.data === undefined ? ':memory:' : join(given.data, 'loombook.sqlite'))
  const clock = given.clock ?? fixedClock(`${TODAY}T12:00:00Z`)
  const owner = createOwner(db, clock, { name: 'Owner', password: PASSWORD })
  if (!owner.ok) throw new Error('no owner')
  const data = given.data ?? mkdtempSync(join(tmpdir(), 'loombook-'))
  const demo = given.demo === false ? null : loadDemo(db, clock, owner.value)
  if (demo && !demo.ok) throw new Error('no demonstration vehicles')
  const app = await buildApp({
    db,
    clock,
    config: { data, host: '127.0.0.1', port: 0, timeZone: given.timeZone ?? 'UTC', ...given.config },
  })
  const under = given.config?.basePath ?? ''
  const door = await app.inject(`${under}/login`)
  const visitor = String(door.headers['set-cookie']).split(';')[0] as string
  const signed = await app.inject({
    method: 'POST',
    url: `${under}/sessions`,
    headers: { cookie: visitor, 'content-type': 'application/x-www-form-urlencoded' },
    payload: new URLSearchParams({ _token: tokenIn(door.body), name: 'Owner', password: PASSWORD }).toString(),
  })
  const cookie = String(signed.headers['set-cookie']).split(';')[0] as string
  const get = (url: string, headers: Record<string, string> = {}) => app.inject({ url, headers: { cookie, ...headers } })
  const token = tokenIn((await get(`${under}/`)).body)
  const post = (url: string, fields: Record<string, string>, headers: Record<string, string> = {}) =>
    app.inject({
      method: 'POST',
      url,
      headers: { cookie, 'content-type': 'application/x-www-form-urlencoded', ...headers },
      payload: new URLSearchParams({ _token: token, ...fields }).toString(),
    })
  const vehicles = (demo?.ok ? demo.value.vehicleIds : []) as readonly string[]
  /** A form with files, as a browser sends it: the token first. */
  const send = (
    url: string,
    given: {
      readonly files: readonly { readonly name: string; readonly bytes: Buffer; readonly type?: string }[]
      readonly fields?: Record<string, string>
      readonly headers?: Record<string, string>
    },
  ) => {
    const form = new FormData()
    for (const [name, value] of Object.entries({ _token: token, ...given.fields })) form.append(name, value)
    for (const { name, bytes, type } of given.files)
      form.append('photo', new Blob([new Uint8Array(bytes)], { type: type ?? 'image/jpeg' }), name)
    return app.inject({ method: 'POST', url, headers: { cookie, ...given.headers }, payload: form as never })
  }
  const close = async () => {
    await app.close()
    rmSync(data, { recursive: true, force: true })
  }
  return { app, db, clock, data, actor: owner.value as Actor, token, cookie, get, post, send, vehicles, close }
}
export type Book = Awaited<ReturnType<typeof openBook>>

export function tokenIn(body: string): string {
  return /name="_token" value="([^"]+)"/.exec(body)?.[1] ?? ''
}

/** Every address that the pages' own table answers with GET. */
export function pagePatterns(): readonly string[] {
  const found: string[] = []
  registerPages({ get: (path: string) => found.push(path), post: () => {}, config: {}, backups: '' } as unknown as FastifyInstance)
  return found
}

/** An address of every page, by its pattern. A pattern that has none here is a page nobody walks. */
export async function addressesOf(book: Book): Promise<Readonly<Record<string, readonly string[]>>> {
  const [bramble, wren, anvil] = book.vehicles as [string, string, string]
  const V = `/vehicles/${bramble}`
  const journal = (await book.get(`${V}/journal`)).body
  const entries = [...journal.matchAll(/href="(\/entries\/[0-9a-f-]{36})"/g)].map((found) => found[1] as string)
  const parts = [...(await book.get('/shelf')).body.matchAll(/href="(\/parts\/[0-9a-f-]{36})"/g)].map((found) => found[1] as string)
  const relays = [...partsById(book.db, book.actor).values()]
    .filter((part) => part.kind === 'relay')
    .map((part) => `part=${part.id}`)
    .join('&')
  const left = await book.post(`/vehicles/${wren}/unfinished`, { components: 'battery', text: 'Lead moved' })
  const page = (await book.get(left.headers.location as string)).body
  const unfinished = /href="(\/vehicles\/[^"]+\/unfinished\/[^"]+)"/.exec((await book.get(`/vehicles/${wren}`)).body)?.[1] as string
  if (!page || !unfinished) throw new Error('nothing was left to finish')
  return {
    '/': ['/', '/?find=battery', '/?page=2'],
    '/search': ['/search', '/search?q=relay', '/search?q=relay&kind=entry&page=2', `/search?q=fuse&vehicle=${bramble}`, '/search?q=zzzz'],
    '/vehicles/new': ['/vehicles/new'],
    '/vehicles/import': ['/vehicles/import'],
    '/vehicles/:id': [V, `${V}?on=2023-05-10`, `${V}?on=2000-01-01`, `${V}?condition=start`, `/vehicles/${wren}`, `/vehicles/${anvil}`],
    '/vehicles/:id/copies/new': [`${V}/copies/new`],
    '/vehicles/:id/findings': [
      `${V}/findings`,
      `${V}/findings?on=2023-05-10`,
      `${V}/findings?verdict=all&page=2`,
      `/vehicles/${wren}/findings?verdict=unknown&rule=contact-load`,
    ],
    '/vehicles/:id/findings/:rule/:component': findingAddresses(book),
    '/vehicles/:id/components': [
      `${V}/components`,
      `${V}/components?contains=relay`,
      `${V}/components?on=2023-05-10`,
      `${V}/components?on=2000-01-01`,
      `${V}/components?contains=zzz`,
    ],
    '/vehicles/:id/wiring-drawing': [
      `${V}/wiring-drawing`,
      `${V}/wiring-drawing?on=2023-05-10`,
      `/vehicles/${wren}/wiring-drawing?on=2000-01-01`,
    ],
    '/vehicles/:id/current-picture': [
      `${V}/current-picture`,
      `${V}/current-picture?on=2023-05-10&condition=start`,
      `/vehicles/${wren}/current-picture?on=2000-01-01`,
    ],
    '/vehicles/:id/cut-list': [`${V}/cut-list`, `${V}/cut-list?harness=fuse-dip-left&end=50&share=10`, `${V}/cut-list?on=2023-05-10`],
    '/vehicles/:id/compare': [
      `${V}/compare`,
      `${V}/compare?from=2023-05-10&to=2023-05-10`,
      `${V}/compare?from=2000-01-01&to=2023-05-10`,
      `/vehicles/${wren}/compare?from=2023-05-10`,
    ],
    '/vehicles/:id/components/:key/life': ['r7', 'block', 'main-lead'].map((key) => `${V}/components/${key}/life`),
    '/vehicles/:id/components/:key': [
      ...['r7', 'block', 'fridge', 'frame', 'main-lead', 'battery'].map((key) => `${V}/components/${key}`),
      `${V}/components/r7?on=2023-05-10`,
    ],
    '/vehicles/:id/components/:key/chain': [`${V}/components/block/chain`, `/vehicles/${wren}/components/battery/chain`],
    '/vehicles/:id/components/:key/insert': [`${V}/components/r7/insert`, `${V}/components/main-lead/insert`],
    '/vehicles/:id/components/:key/marks': [`${V}/components/main-lead/marks`],
    '/vehicles/:id/components/:key/path': [`${V}/components/fuel-pump/path?from=block:4`],
    '/vehicles/:id/journal': [
      `${V}/journal`,
      `${V}/journal?contains=relay`,
      `${V}/journal?on=2023-05-10`,
      `${V}/journal?on=2000-01-01`,
      `${V}/journal?contains=zzz`,
    ],
    '/vehicles/:id/entries/new': [
      `${V}/entries/new`,
      `${V}/entries/new?component=r7`,
      `${V}/entries/new?like=${entries[0]?.slice('/entries/'.length)}`,
    ],
    '/vehicles/:id/fuse-box': [`${V}/fuse-box`, `/vehicles/${wren}/fuse-box`],
    '/vehicles/:id/on-paper': [`${V}/on-paper`, `/vehicles/${wren}/on-paper`],
    '/vehicles/:id/fuse-box/:box/chart': [
      `${V}/fuse-box/block/chart`,
      `${V}/fuse-box/-/chart`,
      `${V}/fuse-box/block/chart?size=a5`,
      `/vehicles/${wren}/fuse-box/block/chart?paper=exact`,
    ],
    '/vehicles/:id/labels': [`${V}/labels`, `${V}/labels?which=all`, `${V}/labels?only=r7`],
    '/vehicles/:id/handover-file': [
      ...book.vehicles.map((id) => `/vehicles/${id}/handover-file`),
      `${V}/handover-file?vin=yes&plate=yes&prices=yes&names=yes&addresses=yes`,
      `${V}/handover-file?on=2024-05-10`,
    ],
    '/vehicles/:id/unfinished/:key': [unfinished],
    '/vehicles/:id/due/:key': [`${V}/due/grounds-2027`],
    '/vehicles/:id/due/:key/change': [`${V}/due/grounds-2027/change`],
    '/vehicles/:id/due': [`${V}/due`, `/vehicles/${wren}/due`, `/vehicles/${anvil}/due`],
    '/vehicles/:id/due-items/new': [`${V}/due-items/new`, `${V}/due-items/new?component=r7`],
    '/due': ['/due'],
    '/feeds': ['/feeds'],
    '/costs': ['/costs'],
    '/parts/compare': [`/parts/compare?${relays}`],
    '/parts/:id/inspections/new': parts.slice(0, 2).map((part) => `${part}/inspections/new`),
    '/decisions/new': [`/decisions/new?vehicle=${bramble}&${relays}`, '/decisions/new', `/decisions/new?vehicle=${wren}&component=battery`],
    '/entries/:id': [...entries.slice(0, 6), entries.at(-1) as string],
    '/entries/:id/correction': entries.slice(0, 2).map((entry) => `${entry}/correction`),
    '/shelf': ['/shelf', '/shelf?contains=relay', '/shelf?contains=zzz'],
    '/shelf/new': ['/shelf/new', '/shelf/new?kind=relay', '/shelf/new?kind=load', `/shelf/new?like=${parts[0]?.slice('/parts/'.length)}`],
    '/parts/:id': parts.slice(0, 3),
    '/vehicles/:id/hand-over': [`${V}/hand-over`, `${V}/hand-over?preset=workshop`, `/vehicles/${wren}/hand-over`],
    '/vehicles/:id/hand-over/preview': [`${V}/hand-over/preview`],
    '/vehicles/:id/hand-over/preview/:page': ['parts', 'wiring', 'journal', 'photos', 'readings', 'findings', 'costs'].map(
      (page) => `${V}/hand-over/preview/${page}?chosen=yes&page-${page}=yes&let-prices=yes&let-suppliers=yes`,
    ),
    '/vehicles/:id/identity': [`${V}/identity`],
    '/vehicles/:id/photos': [`${V}/photos`, `/vehicles/${wren}/photos`],
    '/photos/:id': [await photo(book, bramble)],
    '/people': ['/people'],
    '/join/:token': [new URL(await invitation(book)).pathname],
    '/new-password/:token': [newPassword(book)],
    '/account': ['/account'],
    '/account/second-factor': ['/account/second-factor'],
    '/account/passkeys/new': ['/account/passkeys/new'],
    '/confirm': ['/confirm', '/confirm?next=/people'],
    '/security': ['/security'],
    '/tokens': ['/tokens'],
    '/webhooks': ['/webhooks'],
    '/api-guide': ['/api-guide'],
    '/trash': ['/trash'],
    '/archive': ['/archive'],
    '/vehicles/:id/archive': [`${V}/archive`],
    '/vehicles/:id/leave': [`${V}/leave`],
    '/settings': ['/settings'],
    '/operations': ['/operations'],
    '/rescue': ['/rescue'],
    '/settings/backups/:name': [`/settings/backups/${(await madeBackup(book)).name}`],
    '/rules': ['/rules'],
    '/rules/:rule': rules.map((rule) => `/rules/${rule.id}`),
  }
}

async function photo(book: Book, vehicle: string): Promise<string> {
  const bytes = await sharp({ create: { width: 300, height: 200, channels: 3, background: '#456' } })
    .jpeg()
    .toBuffer()
  return (await book.send(`/vehicles/${vehicle}/photos`, { files: [{ name: 'box.jpg', bytes }] })).headers.location as string
}

async function madeBackup(book: Book) {
  return makeBackup({ db: book.db, clock: book.clock, data: book.data, folder: join(book.data, 'backups') })
}

function newPassword(book: Book): string {
  const made = makePasswordLink(book.db, book.clock, 'Owner')
  if (!made.ok) throw new Error('no link')
  return `/new-password/${made.value.token}`
}

/** The address that an invitation just made shows. */
async function invitation(book: Book): Promise<string> {
  const made = await book.post('/people/invitations', { role: 'viewer' })
  return /<p class="mono">([^<]+)<\/p>/.exec(made.body)?.[1] as string
}

/**
 * The page of one finding of every rule and verdict that the demonstration vehicles have: today, and on the day R7 was over.
 * One of each verdict stands first.
 */
function findingAddresses(book: Book): readonly string[] {
  const found = new Map<string, string>()
  for (const id of book.vehicles)
    for (const on of [undefined, '2023-05-10'])
      for (const { rule, verdict, component } of reportOn(book.db, book.actor, id, on).report.findings) {
        const kind = `${verdict} ${rule}`
        if (!found.has(kind)) found.set(kind, `/vehicles/${id}/findings/${rule}/${component}${on === undefined ? '' : `?on=${on}`}`)
      }
  const first = ['over', 'tight', 'unknown', 'clear'].map((verdict) => {
    const kind = [...found.keys()].find((one) => one.startsWith(verdict))
    if (kind === undefined) throw new Error(`no finding is ${verdict}`)
    return found.get(kind) as string
  })
  return [...new Set([...first, ...found.values()])]
}

/** What is no page of a signed-in person: answers that are not pages, and the two doors. */
export const NO_PAGES = [
  '/archive/download',
  '/vehicles/:id/archive/download',
  '/vehicles/:id/entries/part-choices',
  '/feeds/:address',
  '/photos/:id/thumbnail',
  '/photos/:id/picture',
  '/photos/:id/original',
  '/vehicles/:id/hand-over/preview/p/:file',
  '/healthz',
  '/sessions/provider',
  '/sessions/provider/return',
  '/account/identities/new',
  '/readyz',
  '/api-guide/openapi.json',
  '/vehicles/:id/document.json',
  '/vehicles/:id/cut-list.csv',
  '/vehicles/:id/fuse-box/:box/chart.pdf',
  '/vehicles/:id/handover-file.pdf',
  '/login',
  '/first-run',
  '/first-run/backups',
]
