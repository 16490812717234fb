// Run in the image by docker/prove.sh: the first run with the demonstration, a vehicle's page, its wiring drawn, a photo taken and made small.
// With `first-answer MS` it only waits for the first answer, and tells how long after that moment it came. Exit status 0 if all was as it should.
import { createRequire } from 'node:module'
import { setTimeout as wait } from 'node:timers/promises'

const sharp = createRequire('/app/')('sharp')
const door = `http://127.0.0.1:${process.env.LOOMBOOK_PORT}`
/** Time for an emulated machine. */
const STARTS_ms = 300_000
let cookie = ''

const [, , what, started_ms] = process.argv
if (what === 'first-answer') await firstAnswer(Number(started_ms))
else await visit()

async function firstAnswer(from_ms) {
  const answers = () => fetch(`${door}/first-run`).then((reply) => reply.ok, () => false)
  while (!(await answers())) {
    if (Date.now() - from_ms > STARTS_ms) throw new Error('It gave no answer')
    await wait(20)
  }
  console.log(`first answer after ${((Date.now() - from_ms) / 1000).toFixed(2)} s`)
}

async function visit() {
  console.log(`node ${process.version} on ${process.arch}`)
  const first = await ask('/first-run', 200)
  const account = { _token: tokenIn(first.text), name: 'Owner', password: 'a long enough word', start: 'demonstration' }
  await ask('/first-run', 303, { method: 'POST', body: new URLSearchParams(account) })
  const home = await ask('/', 200)
  const [vehicle] = /\/vehicles\/[0-9a-f-]{36}/.exec(home.text) ?? []
  if (vehicle === undefined) throw new Error('The first page has no vehicle')
  await ask(vehicle, 200)
  const form = new FormData()
  form.append('_token', tokenIn(home.text))
  form.append('photo', new Blob([await noise(1600, 1200)], { type: 'image/jpeg' }), 'noise.jpg')
  await ask(`${vehicle}/photos`, 303, { method: 'POST', body: form })
  const photos = await ask(`${vehicle}/photos`, 200)
  const [thumbnail] = /\/photos\/[0-9a-f-]{36}\/thumbnail/.exec(photos.text) ?? []
  if (thumbnail === undefined) throw new Error('The photo is not among the vehicle’s')
  const small = await ask(thumbnail, 200)
  const { width, height } = await sharp(small.bytes).metadata()
  // The sides of what was sent are as 4 to 3.
  if (width >= 1600 || Math.abs(width / height - 4 / 3) > 0.02) throw new Error(`The thumbnail is ${width} by ${height}`)
  console.log(`thumbnail: ${width} by ${height}`)
}

/** Asks as a browser does, and insists on the status. */
async function ask(path, status, given = {}) {
  const from_ms = performance.now()
  const reply = await fetch(door + path, { redirect: 'manual', headers: { cookie }, ...given })
  const bytes = Buffer.from(await reply.arrayBuffer())
  console.log(`${given.method ?? 'GET'} ${path}: ${reply.status}, ${bytes.length} bytes, ${Math.round(performance.now() - from_ms)} ms`)
  if (reply.status !== status) throw new Error(bytes.toString().slice(0, 500))
  const given_back = reply.headers.getSetCookie().map((one) => one.split(';')[0])
  if (given_back.length > 0) cookie = given_back.join('; ')
  return { bytes, text: bytes.toString() }
}

function noise(width, height) {
  const grain = { type: 'gaussian', mean: 128, sigma: 30 }
  return sharp({ create: { width, height, channels: 3, background: 'grey', noise: grain } }).jpeg().toBuffer()
}

function tokenIn(text) {
  return /name="_token" value="([^"]+)"/.exec(text)?.[1] ?? ''
}
