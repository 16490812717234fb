import type { Browser, Page } from 'playwright-core'
import sharp from 'sharp'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { type Book, openBook, PASSWORD } from '../pages/book.ts'
import { launch } from './browser.ts'

const BASE = '/x/y'
let browser: Browser
let book: Book
let address = ''
let photo: Buffer

beforeAll(async () => {
  browser = await launch()
  photo = await sharp({ create: { width: 640, height: 480, channels: 3, background: '#8a5a00' } })
    .jpeg()
    .toBuffer()
  book = await openBook({ config: { basePath: BASE } })
  address = await book.app.listen({ host: '127.0.0.1', port: 0 })
})
afterAll(async () => {
  await browser?.close()
  await book?.close()
})

/** A page that notes what went wrong on it: refused by the policy, not found, thrown. */
async function opened(javaScriptEnabled: boolean): Promise<{ readonly page: Page; readonly wrong: string[] }> {
  const context = await browser.newContext({ javaScriptEnabled, viewport: { width: 360, height: 740 } })
  const page = await context.newPage()
  const wrong: string[] = []
  page.on('console', (message) => message.type() === 'error' && wrong.push(message.text()))
  page.on('pageerror', (fault) => wrong.push(String(fault)))
  page.on('response', (reply) => reply.status() >= 400 && wrong.push(`${reply.status()} ${reply.url()}`))
  page.on('request', (request) => !new URL(request.url()).pathname.startsWith(`${BASE}/`) && wrong.push(`outside: ${request.url()}`))
  return { page, wrong }
}

test.each([true, false])(
  'signed in, logged, found, signed out under /x/y; scripts %s; nothing is asked for outside of it',
  async (scripts) => {
    const { page, wrong } = await opened(scripts)
    await page.goto(`${address}${BASE}/shelf`)
    expect(new URL(page.url()).pathname).toBe(`${BASE}/login`)
    await page.fill('#name', 'Owner')
    await page.fill('#password', PASSWORD)
    await page.click('main button[type=submit]')
    expect(new URL(page.url()).pathname).toBe(`${BASE}/shelf`)

    const vehicle = `${address}${BASE}/vehicles/${book.vehicles[0]}`
    await page.goto(`${vehicle}/entries/new`)
    const text = `Looked at under a folder, scripts ${scripts}`
    await page.selectOption('#verb', 'noted')
    await page.fill('#text', text)
    if (scripts) {
      await page.setInputFiles('#photos-pick', { name: 'box.jpg', mimeType: 'image/jpeg', buffer: photo })
      const shown = page.locator('#photos-sent li img')
      await shown.waitFor()
      await expect
        .poll(() => shown.evaluate((image) => [Reflect.get(image, 'complete'), Reflect.get(image, 'naturalWidth')]))
        .toEqual([true, 320])
      await page.click('button[value=try]')
      await page.waitForSelector('#tried > *')
    }
    await page.click('button[value=save]')
    await page.waitForURL(/\/x\/y\/entries\/[0-9a-f-]{36}/)
    expect(await page.textContent('main')).toContain(text)

    await page.goto(`${vehicle}`)
    const styles = await page.evaluate('getComputedStyle(document.querySelector("header.top")).display')
    expect(styles).not.toBe('block')
    await page.click('header.top button[type=submit]')
    await page.waitForURL(/\/x\/y\/login/)
    const cookies = await page.context().cookies(`${address}/`)
    expect(cookies.filter((cookie) => cookie.path !== `${BASE}/`)).toEqual([])
    expect(wrong.filter((one) => !/^outside: (data|blob):/.test(one))).toEqual([])
    await page.context().close()
  },
)
