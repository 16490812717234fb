/** Passkeys in a real browser, with its own software authenticator in the place of a device. */
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { launch, PASSWORD, serve } from './browser.ts'

let browser: Browser
let server: Awaited<ReturnType<typeof serve>>
let address = ''
beforeAll(async () => {
  browser = await launch()
  server = await serve()
  // Browsers make keys for names, not for addresses.
  address = server.address.replace('127.0.0.1', 'localhost')
})
afterAll(async () => {
  await browser?.close()
  await server?.close()
})

async function authenticator(page: Page) {
  const session = await page.context().newCDPSession(page)
  await session.send('WebAuthn.enable')
  const { authenticatorId } = await session.send('WebAuthn.addVirtualAuthenticator', {
    options: {
      protocol: 'ctap2',
      transport: 'internal',
      hasResidentKey: true,
      hasUserVerification: true,
      isUserVerified: true,
      automaticPresenceSimulation: true,
    },
  })
  return {
    verifies: (isUserVerified: boolean) => session.send('WebAuthn.setUserVerified', { authenticatorId, isUserVerified }),
    keys: async () => (await session.send('WebAuthn.getCredentials', { authenticatorId })).credentials.length,
  }
}

async function withPassword(page: Page) {
  await page.goto(`${address}/login`)
  await page.fill('#name', 'Owner')
  await page.fill('#password', PASSWORD)
  await page.click('main button.main')
}
const out = (page: Page) => page.click('header button')

test('made, used by itself and as a second step, refused where nobody is verified, and removed', async () => {
  const page = await (await browser.newContext()).newPage()
  const faults: string[] = []
  page.on('console', (message) => message.type() === 'error' && faults.push(message.text()))
  page.on('pageerror', (fault) => faults.push(String(fault)))
  const device = await authenticator(page)
  await withPassword(page)

  await page.goto(`${address}/account`)
  await page.click('text=Add a passkey')
  await page.fill('#name', 'Phone')
  await page.click('text=Make a passkey')
  await page.waitForSelector('text=Recovery codes')
  expect(await page.locator('ul.mono li').count()).toBe(8)
  expect(await device.keys()).toBe(1)
  // one device, one key: the browser says that there is one already
  await page.goto(`${address}/account/passkeys/new`)
  await page.fill('#name', 'Phone again')
  await page.click('text=Make a passkey')
  await page.waitForSelector('text=holds a passkey for you already')

  await out(page)
  await page.goto(`${address}/login?next=%2Fshelf`)
  await page.click('text=Sign in with a passkey')
  await page.waitForURL(`${address}/shelf`)

  await out(page)
  await device.verifies(false)
  await page.goto(`${address}/login`)
  await page.click('text=Sign in with a passkey')
  await page.waitForSelector('text=Nothing came of it')
  await device.verifies(true)

  await withPassword(page)
  await page.waitForSelector('text=Second step')
  await page.click('text=Use a passkey')
  await page.waitForURL(`${address}/`)

  await page.goto(`${address}/account`)
  expect(await page.inputValue('[id^=name-]')).toBe('Phone')
  await page.fill('[id^=name-]', 'Old phone')
  await page.click('button:has-text("Rename")')
  await page.waitForLoadState()
  expect(await page.inputValue('[id^=name-]')).toBe('Old phone')
  await page.click('button:has-text("Remove Old phone")')
  await page.waitForLoadState()
  expect(await page.locator('[id^=name-]').count()).toBe(0)
  await out(page)
  await withPassword(page)
  await page.waitForURL(`${address}/`)
  expect(faults).toEqual([])
  await page.context().close()
})

test('without scripts the pages say so, and the password still lets in', async () => {
  const page = await (await browser.newContext({ javaScriptEnabled: false })).newPage()
  await page.goto(`${address}/login`)
  expect(await page.isVisible('text=Passkeys need scripts, which are off here')).toBe(true)
  expect(await page.isVisible('text=Sign in with a passkey')).toBe(false)
  await withPassword(page)
  await page.goto(`${address}/account/passkeys/new`)
  expect(await page.isVisible('text=scripts are off here')).toBe(true)
  expect(await page.isVisible('text=Make a passkey')).toBe(false)
  await page.context().close()
})

test('by an address instead of a name none are offered, and the page says why', async () => {
  const page = await (await browser.newContext()).newPage()
  await page.goto(`${server.address}/login`)
  expect(await page.locator('[data-passkey]').count()).toBe(0)
  await page.fill('#name', 'Owner')
  await page.fill('#password', PASSWORD)
  await page.click('main button.main')
  await page.goto(`${server.address}/account`)
  expect(await page.isVisible('text=Browsers make passkeys only where the address is a host name')).toBe(true)
  await page.context().close()
})
