/** Everything that writes, tried on a disk that is full and then has room again. Argument: a small file system of its own. One line of JSON a step. */
import { appendFileSync, copyFileSync, existsSync, mkdirSync, readdirSync, readFileSync, rmSync, statfsSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import sharp from 'sharp'
import { makeBackup, removeUnfinished } from '../../server/records/backup.ts'
import { openDatabase } from '../../server/records/database.ts'
import { realFiles } from '../../server/records/files.ts'
import { openBook, PASSWORD } from '../pages/book.ts'

const [data = ''] = process.argv.slice(2)
const filler = join(data, 'filler')
const book = await openBook({ demo: false, data })
const V = ((await book.post('/vehicles', { name: 'Fern', systemVoltage_V: '12' })).headers.location as string).split('?')[0] as string
const picture = (colour: string) =>
  sharp({ create: { width: 300, height: 300, channels: 3, background: colour } })
    .png()
    .toBuffer()
const send = async (colour: string) =>
  book.send(`${V}/photos`, { files: [{ name: 'a.png', bytes: await picture(colour) }], headers: { accept: 'application/json' } })
const photo = (JSON.parse((await send('#333')).body) as { photos: { id: string }[] }).photos[0]?.id as string
const old = join(data, 'old')
mkdirSync(old)
copyFileSync('tests/fixtures/0001/loombook.sqlite', join(old, 'loombook.sqlite'))

const ways: readonly (readonly [string, () => Promise<{ readonly status: number; readonly says: string }>])[] = [
  ['insert', () => until507(() => book.post(`${V}/entries`, { verb: 'noted', text: 'x'.repeat(1900), on: '2026-11-20', do: 'save' }))],
  ['upload', async () => shown(await send('#444'))],
  ['thumbnail', async () => shown(await book.get(`/photos/${photo}/thumbnail`))],
  ['backup', async () => shown(await book.post('/settings/backups', {}))],
  ['session write', () => until507(() => book.post('/sessions', { name: 'Owner', password: PASSWORD }))],
  [
    'migration',
    async () => {
      try {
        openDatabase(join(old, 'loombook.sqlite')).$client.close()
        return { status: 200, says: '' }
      } catch (fault) {
        return { status: 0, says: (fault as Error).message }
      }
    },
  ],
]
const bytesOfOld = readFileSync(join(old, 'loombook.sqlite'))

fill()
for (const [name, way] of ways) {
  const answer = await way()
  tell({ when: 'full', name, ...answer, ...(await state()) })
  fill()
}
// A backup for which there seemed to be room, cut short at twenty places.
for (let n = 0; n < 20; n += 1) {
  rmSync(filler, { force: true })
  fill((n + 1) * 40_000)
  const made = await makeBackup({ ...book, folder: join(data, 'backups'), files: { ...realFiles, free_bytes: async () => 1e12 } }).then(
    () => true,
    () => false,
  )
  const names = existsSync(join(data, 'backups')) ? readdirSync(join(data, 'backups')) : []
  tell({ when: 'cut short', name: `${(n + 1) * 40_000} bytes free`, made, names })
  for (const one of names) rmSync(join(data, 'backups', one), { recursive: true })
  await removeUnfinished(join(data, 'backups'))
}
rmSync(filler, { force: true })
for (const [name, way] of ways) tell({ when: 'room again', name, ...(await way()), ...(await state()) })

/** Until nothing more goes in, but for so many bytes. */
function fill(left = 0): void {
  if (left > 0) {
    const disk = statfsSync(data)
    writeFileSync(filler, Buffer.alloc(Math.max(0, disk.bavail * disk.bsize - left)))
    return
  }
  for (const size of [65_536, 4096, 512, 1])
    try {
      for (;;) appendFileSync(filler, Buffer.alloc(size))
    } catch {}
}

/** The log of writes has some room of its own, that a first few saves may still find. */
async function until507(ask: () => Promise<{ statusCode: number; body: string }>) {
  let reply = await ask()
  for (let n = 0; n < 300 && reply.statusCode === 303; n += 1) {
    if (!existsSync(filler)) return shown(reply)
    reply = await ask()
  }
  return shown(reply)
}

function shown(reply: { statusCode: number; body: string }) {
  return { status: reply.statusCode, says: reply.statusCode === 200 ? '' : reply.body.replace(/<[^>]*>/g, ' ').replace(/\s+/g, ' ') }
}

async function state() {
  const { $client } = book.db
  return {
    reads: [(await book.get('/')).statusCode, (await book.get(V)).statusCode],
    sound: $client.pragma('integrity_check', { simple: true }),
    left: [join(data, 'tmp'), join(data, 'backups')].flatMap((folder) =>
      existsSync(folder) ? readdirSync(folder).filter((name) => folder.endsWith('tmp') || name.startsWith('.')) : [],
    ),
    rowsWithoutFile: ($client.prepare('SELECT sha256 FROM photos').pluck().all() as string[]).filter(
      (sha256) => !readdirSync(join(data, 'photos'), { recursive: true }).some((path) => String(path).includes(sha256)),
    ).length,
    oldIsAsItWas: readFileSync(join(old, 'loombook.sqlite')).equals(bytesOfOld),
  }
}

function tell(line: object): void {
  process.stdout.write(`${JSON.stringify(line)}\n`)
}
