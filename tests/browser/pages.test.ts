import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { addressesOf, type Book, openBook, PASSWORD } from '../pages/book.ts'
import { launch } from './browser.ts'

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
const FINDING = '/vehicles/:id/findings/:rule/:component'
let browser: Browser
let book: Book
let address = ''
let paths: readonly string[] = []
let narrow: readonly string[] = []

beforeAll(async () => {
  browser = await launch()
  book = await openBook()
  const addresses = await addressesOf(book)
  // One of every page, and a finding's of each verdict; of rules and findings, which differ most in width, all for the narrow screen.
  paths = Object.entries(addresses).flatMap(([pattern, those]) => those.slice(0, pattern === FINDING ? 4 : 1))
  narrow = Object.entries(addresses).flatMap(([pattern, those]) => (pattern.includes(':rule') ? those : those.slice(0, 1)))
  address = await book.app.listen({ host: '127.0.0.1', port: 0 })
})
afterAll(async () => {
  await browser?.close()
  await book?.close()
})

async function open(width: number, colorScheme: 'light' | 'dark') {
  const context = await browser.newContext({ viewport: { width, height: 740 }, colorScheme, bypassCSP: true })
  const page = await context.newPage()
  await page.goto(`${address}/login`)
  await page.fill('#name', 'Owner')
  await page.fill('#password', PASSWORD)
  await page.click('main button[type=submit]')
  return page
}

test.each(['light', 'dark'] as const)('no serious or critical fault of access on any page, %s', async (theme) => {
  const page = await open(360, theme)
  const found: string[] = []
  for (const path of paths) {
    await page.goto(address + path)
    await page.evaluate(axe)
    const faults = (await page.evaluate(
      `axe.run(document, { resultTypes: ['violations'] }).then((r) => r.violations.filter((v) => ['serious', 'critical'].includes(v.impact)).map((v) => v.id + ': ' + v.nodes.slice(0, 2).map((n) => n.html.slice(0, 140)).join(' | ')))`,
    )) as string[]
    found.push(...faults.map((fault) => `${path} ${fault}`))
  }
  expect(found).toEqual([])
  await page.context().close()
})

test('no page scrolls sideways at 320 px; on paper the page stays and its ways about go', async () => {
  const page = await open(320, 'light')
  const wide: string[] = []
  for (const path of narrow) {
    await page.emulateMedia({ media: 'screen' })
    await page.goto(address + path)
    if (await page.evaluate('document.documentElement.scrollWidth > 320')) wide.push(path)
    await page.emulateMedia({ media: 'print' })
    expect(await page.isVisible('header.top'), path).toBe(false)
    // The sheets of a drawing bear their own heading.
    expect(await page.isVisible(/wiring-drawing|current-picture/.test(path) ? '.sheets svg' : 'h1'), path).toBe(true)
    expect(await page.isVisible('footer .only-print'), path).toBe(true)
  }
  expect(wide).toEqual([])
  await page.context().close()
})
