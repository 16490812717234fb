/** A headless browser and a running Loombook with the demonstration vehicles, for the journeys. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { type Browser, chromium as playwright } from 'playwright-core'
import { buildApp } from '../../server/app.ts'
import { fixedClock } from '../../server/records/clock.ts'
import { openDatabase } from '../../server/records/database.ts'
import { loadDemo } from '../../server/records/demo/index.ts'
import { createOwner } from '../../server/records/people.ts'

const FLAGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
]
export const PASSWORD = 'a long enough word'

export async function launch(): Promise<Browser> {
  return playwright.launch({ executablePath: process.env.CHROMIUM ?? (await packaged()), args: FLAGS, headless: true })
}

/** The browser that a package brings, unpacked under a folder of its own version. */
async function packaged(): Promise<string> {
  process.env.AWS_EXECUTION_ENV ??= 'AWS_Lambda_nodejs20.x'
  const folder = join(tmpdir(), 'loombook-chromium-147.0.0')
  mkdirSync(folder, { recursive: true })
  process.env.TMPDIR = folder
  // The package's own font list looks in /tmp/fonts only, and text without a font has no size.
  const fonts = join(folder, 'font-list')
  mkdirSync(fonts, { recursive: true })
  writeFileSync(
    join(fonts, 'fonts.conf'),
    `<?xml version="1.0"?><fontconfig><dir>/usr/share/fonts</dir><dir>${folder}/fonts</dir><cachedir>${folder}/fonts-cache</cachedir></fontconfig>`,
  )
  process.env.FONTCONFIG_PATH = fonts
  const { default: chromium } = await import('@sparticuz/chromium')
  return chromium.executablePath()
}

/** Loombook on a free port, with an owner and the demonstration vehicles. */
export async function serve() {
  const db = openDatabase(':memory:')
  const data = mkdtempSync(join(tmpdir(), 'loombook-'))
  const clock = fixedClock('2026-11-25T12:00:00Z')
  const owner = createOwner(db, clock, { name: 'Owner', password: PASSWORD })
  if (!owner.ok) throw new Error('no owner')
  const demo = loadDemo(db, clock, owner.value)
  if (!demo.ok) throw new Error(demo.refusals.map((refusal) => refusal.sentence).join(' '))
  const app = await buildApp({ db, clock, config: { data, host: '127.0.0.1', port: 0, timeZone: 'UTC' } })
  const address = await app.listen({ host: '127.0.0.1', port: 0 })
  return {
    address,
    db,
    actor: owner.value,
    vehicleIds: demo.value.vehicleIds,
    close: async () => {
      await app.close()
      rmSync(data, { recursive: true, force: true })
    },
  }
}
