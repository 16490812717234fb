/** Photos in a real browser: sent by a plain form, and pressed on where a thing is, on a phone and at a desk. */
import sharp from 'sharp'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { launch, PASSWORD, serve } from './browser.ts'

let browser: Awaited<ReturnType<typeof launch>>
let served: Awaited<ReturnType<typeof serve>>

beforeAll(async () => {
  browser = await launch()
  served = await serve()
})
afterAll(async () => {
  await browser?.close()
  await served?.close()
})

const shapes = [
  ['a lying picture', 1600, 1200],
  ['a standing picture', 900, 1600],
  ['a small picture', 200, 150],
] as const
const screens = [
  ['a phone', 360],
  ['a desk', 1200],
] as const

test.each(
  screens.flatMap(([screen, width]) => shapes.map(([shape, width_px, height_px]) => ({ screen, width, shape, width_px, height_px }))),
)('without scripts, $shape pressed on $screen is marked where it was pressed', async ({ width, width_px, height_px }) => {
  const context = await browser.newContext({ viewport: { width, height: 740 }, javaScriptEnabled: false })
  const page = await context.newPage()
  await page.goto(`${served.address}/login`)
  await page.fill('#name', 'Owner')
  await page.fill('#password', PASSWORD)
  await page.click('main button[type=submit]')
  await page.goto(`${served.address}/vehicles/${served.vehicleIds[0]}/photos`)
  // Another colour each time, so that each is a photo of its own.
  const background = { r: width_px % 256, g: height_px % 256, b: width % 256 }
  const buffer = await sharp({ create: { width: width_px, height: height_px, channels: 3, background } })
    .jpeg()
    .toBuffer()
  await page.setInputFiles('#photo', { name: 'box.jpg', mimeType: 'image/jpeg', buffer })
  await page.click('main form[enctype] button')
  await page.click('ul.photos a')
  await page.click('summary:has-text("Mark")')
  await page.selectOption('#mark', 'r7')
  const picture = page.locator('input[type=image]')
  const box = await picture.boundingBox()
  if (!box) throw new Error('no picture to press on')
  // The picture keeps its shape, else a place on it is not the same place on the original.
  expect(box.width / box.height).toBeCloseTo(width_px / height_px, 1)
  await picture.click({ position: { x: box.width * 0.9, y: box.height * 0.25 } })
  const words = (await page.locator('ol li .small').textContent()) ?? ''
  const [left, top] = [...words.matchAll(/(\d+) %/g)].map((found) => Number(found[1])) as [number, number]
  expect([Math.abs(left - 90) <= 1, Math.abs(top - 25) <= 1], words).toEqual([true, true])
  expect(await page.locator('figure svg a').getAttribute('href')).toBe(`/vehicles/${served.vehicleIds[0]}/components/r7`)
  await context.close()
})
