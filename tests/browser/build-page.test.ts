/** A vehicle handed over on a phone, and its build page met by strangers: in both themes, narrow, on paper, with scripts and without. */
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import type { Browser, BrowserContextOptions, Page } from 'playwright-core'
import sharp from 'sharp'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { scopes } from '../../server/pages/b/scopes/index.ts'
import { type Book, openBook, PASSWORD } from '../pages/book.ts'
import { launch } from './browser.ts'

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
const PAGES = ['', ...scopes.map((scope) => scope.id).filter((id) => id !== 'overview')]
let browser: Browser
let book: Book
let address = ''
/** A link that shows every page, private things too: as much on them as there can be. */
let link = ''

beforeAll(async () => {
  browser = await launch()
  book = await openBook()
  const vehicle = `/vehicles/${book.vehicles[0]}`
  const bytes = await sharp({ create: { width: 300, height: 200, channels: 3, background: '#456' } })
    .jpeg()
    .toBuffer()
  await book.send(`${vehicle}/photos`, { files: [{ name: 'box.jpg', bytes }], fields: { caption: 'The block, lid off' } })
  await book.post(`${vehicle}/identity`, { make: 'Invented', vin: 'XX000000000000001', plate: 'AB 12 CD', keptAt: 'Over there' })
  await book.post(`${vehicle}/entries`, {
    verb: 'measured',
    component: 'battery',
    quantity: 'voltage',
    value: '12.6',
    on: '2026-11-20',
    do: 'save',
  })
  const ticks = Object.fromEntries([
    ...scopes.map((scope) => [`page-${scope.id}`, 'yes']),
    ...['vin', 'plate', 'prices', 'suppliers', 'places', 'names', 'addresses'].map((one) => [`let-${one}`, 'yes']),
  ])
  const form = { chosen: 'yes', recipient: 'A buyer', expiresOn: '2026-12-24', ...ticks }
  const made = await book.post(`${vehicle}/hand-over`, form)
  link = new URL(/id="link"[^>]*value="([^"]+)"/.exec(made.body)?.[1] as string).pathname
  address = await book.app.listen({ host: '127.0.0.1', port: 0 })
})
afterAll(async () => {
  await browser?.close()
  await book?.close()
})

async function open(more: BrowserContextOptions & { readonly as?: 'owner' } = {}): Promise<Page> {
  const { as, ...options } = more
  const context = await browser.newContext({ viewport: { width: 360, height: 740 }, ...options })
  const page = await context.newPage()
  if (as !== 'owner') return page
  await page.goto(`${address}/login`)
  await page.fill('#name', 'Owner')
  await page.fill('#password', PASSWORD)
  await page.click('main button[type=submit]')
  return page
}

test('three taps from the vehicle to a copied link, the preview before there is one', async () => {
  const page = await open({ as: 'owner', hasTouch: true, isMobile: true, permissions: ['clipboard-read', 'clipboard-write'] })
  const count = () => Number(book.db.$client.prepare('SELECT count(*) FROM shares').pluck().get())
  const before = count()
  let taps = 0
  const tap = async (name: string, role: 'link' | 'button') => {
    taps++
    await page.getByRole(role, { name, exact: true }).tap()
  }
  await page.goto(`${address}/vehicles/${book.vehicles[0]}`)
  await tap('Hand over', 'link')
  await page.waitForSelector('#preview')
  expect(await page.textContent('#preview')).toContain('The check judged')
  expect(count()).toBe(before)
  await tap('Make the link', 'button')
  await page.waitForSelector('#link')
  await tap('Copy the link', 'button')
  await page.locator('#link-copied', { hasText: /^Copied\.$/ }).waitFor()
  const copied = (await page.evaluate('navigator.clipboard.readText()')) as string
  expect(taps).toBe(3)
  expect(copied).toMatch(/\/b\/[\w-]{43}$/)
  const stranger = await open()
  expect((await stranger.goto(copied))?.status()).toBe(200)
  await stranger.context().close()
  await page.context().close()
})

test('without scripts the link stands in a field that is copied from by hand', async () => {
  const page = await open({ as: 'owner', javaScriptEnabled: false })
  await page.goto(`${address}/vehicles/${book.vehicles[0]}/hand-over`)
  await page.click('text=Make the link')
  expect(await page.getByRole('button', { name: 'Copy the link' }).count()).toBe(0)
  const field = page.locator('#link')
  expect(await field.inputValue()).toMatch(/\/b\/[\w-]{43}$/)
  expect(await field.isEditable()).toBe(false)
  await page.context().close()
})

test('the same bytes for owner and stranger, scripts on and off', async () => {
  const seen = new Map<string, string[]>()
  for (const who of [{}, { as: 'owner' as const }, { javaScriptEnabled: false }, { as: 'owner' as const, javaScriptEnabled: false }]) {
    const page = await open(who)
    for (const one of PAGES) {
      const reply = await page.goto(`${address}${link}${one === '' ? '' : `/${one}`}`)
      expect(reply?.status(), one).toBe(200)
      expect((await reply?.allHeaders())?.['set-cookie'], one).toBeUndefined()
      seen.set(one, [...(seen.get(one) ?? []), (await reply?.text()) ?? ''])
    }
    await page.context().close()
  }
  for (const [one, texts] of seen) expect(new Set(texts).size, one).toBe(1)
})

test.each(['light', 'dark'] as const)('no serious or critical fault of access on any page of it, %s', async (colorScheme) => {
  const page = await open({ colorScheme, bypassCSP: true })
  const found: string[] = []
  for (const one of [...PAGES.map((id) => `${link}/${id}`), '/b/nothing']) {
    await page.goto(address + one)
    await page.evaluate(axe)
    const faults = (await page.evaluate(
      `axe.run(document, { resultTypes: ['violations'] }).then((r) => r.violations.filter((v) => ['serious', 'critical'].includes(v.impact)).map((v) => v.id + ': ' + v.nodes.slice(0, 2).map((n) => n.html.slice(0, 140)).join(' | ')))`,
    )) as string[]
    found.push(...faults.map((fault) => `${one} ${fault}`))
  }
  expect(found).toEqual([])
  await page.context().close()
})

test('nothing scrolls sideways at 320 px, nothing is asked of another host, and on paper the page stays', async () => {
  const page = await open({ viewport: { width: 320, height: 740 } })
  const faults: string[] = []
  page.on('console', (line) => line.type() === 'error' && faults.push(line.text()))
  page.on('request', (request) => request.url().startsWith(address) || request.url().startsWith('data:') || faults.push(request.url()))
  for (const one of PAGES) {
    await page.emulateMedia({ media: 'screen' })
    await page.goto(`${address}${link}/${one}`)
    if (await page.evaluate('document.documentElement.scrollWidth > 320')) faults.push(`${one} is too wide`)
    await page.emulateMedia({ media: 'print' })
    expect(await page.isVisible('header.top'), one).toBe(false)
    // The sheets of a drawing bear their own heading.
    expect(await page.isVisible(one === 'drawing' || one === 'currents' ? '.sheets svg' : 'h1'), one).toBe(true)
    expect(await page.isVisible('footer .only-print'), one).toBe(true)
  }
  expect(faults).toEqual([])
  await page.context().close()
})
