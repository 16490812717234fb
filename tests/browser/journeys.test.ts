import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { launch, PASSWORD, serve } from './browser.ts'

let browser: Browser

beforeAll(async () => {
  browser = await launch()
})
afterAll(async () => {
  await browser?.close()
})

describe.each([
  ['scripts on', true],
  ['scripts off', false],
])('%s', (_, javaScriptEnabled) => {
  test('a relay swapped for a smaller one is flagged everywhere, cleared by swapping back, and seen again on the day between', async () => {
    const book = await serve()
    const context = await browser.newContext({ javaScriptEnabled, viewport: { width: 360, height: 740 } })
    const page = await context.newPage()
    try {
      await signIn(page, book.address)
      await page.click('text=Bramble')
      // R1 carries both dipped-beam lamps: 2 × 4.4 A. Beside it R3 carries the compressor, 22 A, on a 70 A relay: a 20 A one is too small.
      await logSwap(page, book.address, book.vehicleIds[0] as string, {
        component: 'Relay R3, compressor',
        part: '20 A make relay, micro',
        on: '2026-11-10',
      })
      expect(await page.textContent('main')).toMatch(/Relay R3, compressor carries on its make contact 22 A of its 20 A rating/)
      const entry = page.url()
      for (const path of [`/vehicles/${book.vehicleIds[0]}`, `/vehicles/${book.vehicleIds[0]}/components/r3`]) {
        await page.goto(book.address + path)
        expect(await page.textContent('main'), path).toContain('22 A of its 20 A')
      }
      await page.goto(book.address)
      expect(await page.textContent('main')).toMatch(/1 over/)
      await logSwap(page, book.address, book.vehicleIds[0] as string, {
        component: 'Relay R3, compressor',
        part: '70 A make relay',
        on: '2026-11-20',
      })
      expect(await page.textContent('main')).toContain('Cleared')
      await page.goto(`${book.address}/vehicles/${book.vehicleIds[0]}`)
      expect(await page.textContent('main')).not.toContain('22 A of its 20 A')
      await page.goto(`${book.address}/vehicles/${book.vehicleIds[0]}?on=2026-11-15`)
      expect(await page.textContent('main')).toContain('22 A of its 20 A')
      await page.goto(entry)
      expect(await page.textContent('main')).toContain('By today’s figures')
    } finally {
      await context.close()
      await book.close()
    }
  })

  test('a chain of relay, wires, load, ground and coil in at most 14 taps, tried, saved and read back the same', async () => {
    const book = await serve()
    const context = await browser.newContext({ javaScriptEnabled, viewport: { width: 360, height: 740 } })
    const page = await context.newPage()
    let taps = 0
    const tap = async (selector: string) => {
      taps++
      await page.click(selector)
    }
    try {
      await signIn(page, book.address)
      await page.goto(`${book.address}/vehicles/${book.vehicleIds[0]}/components/block`)
      await tap('text=Add from here')
      const fill = async (selector: string, text: string) => {
        await tap(selector)
        await page.fill(selector, text)
      }
      await fill('#name-1', 'Relay R20')
      await fill('#name-3', 'Fog lamps')
      await fill('#figure-3', '9')
      await tap('button[value=try]:visible')
      const tried = (await page.textContent('.foot')) ?? ''
      expect(tried).toContain('1 relay')
      expect(tried).toContain('1 load')
      expect(tried).toContain('3 conductors')
      await tap('button[value=save]')
      expect(page.url()).toContain('/path?')
      const path = ((await page.textContent('main')) ?? '').replaceAll(/\s+/g, ' ')
      expect(path).toMatch(
        /0\.5 m, 2\.5 mm² copper.*Relay R20.*3 m, 2\.5 mm² copper.*Fog lamps.*Return: 0\.6 m, 2\.5 mm² copper.*Coil: 86 from .*; 85 to /,
      )
      expect(taps).toBeLessThanOrEqual(14)
    } finally {
      await context.close()
      await book.close()
    }
  })

  test('the same job by finishing the wiring later takes at most 5 taps, and nothing on its paths is called clear', async () => {
    const book = await serve()
    const context = await browser.newContext({ javaScriptEnabled, viewport: { width: 360, height: 740 } })
    const page = await context.newPage()
    try {
      await signIn(page, book.address)
      await page.goto(`${book.address}/vehicles/${book.vehicleIds[0]}/components/block`)
      await page.click('#text')
      await page.fill('#text', 'Fog lamps fitted, wires taped up')
      await page.click('text=Keep it, wiring later')
      await page.goto(`${book.address}/vehicles/${book.vehicleIds[0]}/components/block`)
      const findings = (await page.textContent('main')) ?? ''
      expect(findings).toContain('wiring not entered yet')
      expect(findings).not.toContain('of the limit used: clear')
    } finally {
      await context.close()
      await book.close()
    }
  })
})

async function signIn(page: Page, address: string): Promise<void> {
  await page.goto(address)
  await page.fill('#name', 'Owner')
  await page.fill('#password', PASSWORD)
  await page.click('main button[type=submit]')
}

async function logSwap(
  page: Page,
  address: string,
  vehicle: string,
  given: { readonly component: string; readonly part: string; readonly on: string },
): Promise<void> {
  await page.goto(`${address}/vehicles/${vehicle}/entries/new`)
  await page.selectOption('#verb', 'swapped')
  await page.selectOption('#component', { label: given.component })
  // Where scripts run, typing narrows by itself; else the button beside it does.
  const narrowed = page.waitForResponse((reply) => /part-choices\?.*q=\d|\/entries$/.test(reply.url()))
  await page.fill('#q', given.part)
  if (await page.isVisible('button[value=narrow]')) await page.click('button[value=narrow]')
  await narrowed
  await page.click(`#part-choices label:has-text("${given.part}")`)
  await page.fill('#on', given.on)
  await page.click('button[value=save]')
  await page.waitForURL(/\/entries\/[0-9a-f-]{36}$/)
}
