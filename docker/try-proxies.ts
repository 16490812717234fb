/**
 * Past 200 lines: the proxies, the browser and what it does are one trial, to be read from top to bottom.
 * `npm run try:proxies` runs the recipes of docker/proxies, word for word but for ports, against a Loombook of its own:
 * nginx, Caddy and Apache, whichever of them is installed. Over https, as a browser on another address would: to the folder without its
 * slash, in, a search with encoded letters, a photo past the sizes that are usual, a form of another site, an address that the caller made
 * up. Ends with 1 where one of them did not do as its recipe says, or none is installed. Traefik's recipe is not tried here.
 */
import { type ChildProcess, execFileSync, spawn, spawnSync } from 'node:child_process'
import { chmodSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { request } from 'node:https'
import { createServer } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { largePhoto } from '../tests/soak/large-photos.ts'
import { startLoombook, tokenIn } from '../tests/hosting.ts'

const HOST = 'home.example'
/** Where the browser is; the proxy is at 127.0.0.1. */
const CALLER = '127.0.0.2'
const MADE_UP = '198.51.100.7'

type Place = {
  readonly folder: string
  readonly port: number
  readonly recipe: string
  readonly tls: { readonly key: string; readonly cert: string }
}
type Proxy = {
  readonly name: string
  readonly program: string
  readonly recipe: string
  readonly command: (place: Place) => readonly string[]
}

/** The least that each needs around its recipe. */
const PROXIES: readonly Proxy[] = [
  {
    name: 'nginx',
    program: 'nginx',
    recipe: 'nginx.conf',
    command: ({ folder, port, recipe, tls }) => {
      const temporary = ['client_body', 'proxy', 'fastcgi', 'uwsgi', 'scgi']
        .map((what) => `${what}_temp_path ${folder}/${what};`)
        .join('\n')
      const site = `server { listen ${port} ssl; server_name ${HOST}; ssl_certificate ${tls.cert}; ssl_certificate_key ${tls.key};\n${recipe}\n}`
      const file = keep(folder, 'nginx.conf', `pid ${folder}/pid;\nevents {}\nhttp {\naccess_log off;\n${temporary}\n${site}\n}\n`)
      return ['nginx', '-p', folder, '-e', join(folder, 'error.log'), '-c', file, '-g', 'daemon off;']
    },
  },
  {
    name: 'Caddy',
    program: 'caddy',
    recipe: 'Caddyfile',
    command: ({ folder, port, recipe, tls }) => {
      const site = recipe.replace(`${HOST} {`, `${HOST}:${port} {\n\ttls ${tls.cert} ${tls.key}`)
      return [
        'caddy',
        'run',
        '--adapter',
        'caddyfile',
        '--config',
        keep(folder, 'Caddyfile', `{\n\tadmin off\n\tauto_https off\n}\n${site}`),
      ]
    },
  },
  {
    name: 'Apache',
    program: 'apache2',
    recipe: 'apache.conf',
    command: ({ folder, port, recipe, tls }) => {
      const modules = ['mpm_event', 'authz_core', 'ssl', 'proxy', 'proxy_http', 'headers', 'alias']
      const at = process.env.APACHE_MODULES ?? '/usr/lib/apache2/modules'
      const file = keep(
        folder,
        'apache.conf',
        `${modules.map((one) => `LoadModule ${one}_module ${at}/mod_${one}.so`).join('\n')}
ServerRoot ${folder}
DefaultRuntimeDir ${folder}
PidFile ${folder}/pid
ErrorLog ${folder}/error.log
ServerName ${HOST}
Listen 127.0.0.1:${port}
<VirtualHost *:${port}>
SSLEngine on
SSLCertificateFile ${tls.cert}
SSLCertificateKeyFile ${tls.key}
${recipe}
</VirtualHost>
`,
      )
      return ['apache2', '-X', '-f', file]
    },
  },
]

const folder = mkdtempSync(join(tmpdir(), 'loombook-proxies-'))
chmodSync(folder, 0o755)
const tls = certificate()
// Larger than what nginx takes unless told otherwise (1 MB), and than what Apache does (none) would show.
const photo = await largePhoto({ n: 3, isProgressive: false })
let [tried, wrong] = [0, 0]
for (const proxy of PROXIES) {
  if (spawnSync('sh', ['-c', `command -v ${proxy.program}`]).status !== 0) {
    process.stdout.write(`${proxy.name}: not installed here, not tried\n`)
    continue
  }
  tried++
  for (const line of await tryProxy(proxy)) {
    if (line.startsWith('NOT')) wrong++
    process.stdout.write(`${proxy.name}: ${line}\n`)
  }
}
rmSync(folder, { recursive: true, force: true })
process.exitCode = tried === 0 || wrong > 0 ? 1 : 0

async function tryProxy(proxy: Proxy): Promise<readonly string[]> {
  const [port, behind] = [await freePort(), await freePort()]
  const own = join(folder, proxy.program)
  mkdirSync(own)
  const recipe = readFileSync(join(import.meta.dirname, 'proxies', proxy.recipe), 'utf8').replaceAll('8180', String(behind))
  const [program = '', ...parameters] = proxy.command({ folder: own, port, recipe, tls })
  const loombook = await startLoombook({
    env: {
      LOOMBOOK_DATA: join(own, 'data'),
      LOOMBOOK_PORT: String(behind),
      LOOMBOOK_BASE_URL: `https://${HOST}:${port}/garage`,
      LOOMBOOK_ALLOWED_HOSTS: `${HOST}:${port}`,
      LOOMBOOK_TRUSTED_PROXIES: '127.0.0.1',
    },
  })
  const child = spawn(program, parameters, { stdio: ['ignore', 'inherit', 'inherit'], env: { ...process.env, HOME: own } })
  try {
    await opened(port, child)
    return await journey(port, loombook.out() + loombook.log())
  } catch (fault) {
    return [`NOT done: ${(fault as Error).message}`]
  } finally {
    child.kill('SIGTERM')
    loombook.child.kill('SIGTERM')
    await loombook.ended
  }
}

async function journey(port: number, told: string): Promise<readonly string[]> {
  const lines: string[] = []
  const say = (what: string, isSo: boolean, seen: unknown) => lines.push(isSo ? what : `NOT so: ${what} (${String(seen)})`)
  const browser = browserAt(port)
  const bare = await browser.ask('/garage')
  say('the folder without its slash leads to it', [301, 302, 308].includes(bare.status) && /\/garage\/$/.test(bare.location), bare.location)
  const door = await browser.ask('/garage/first-run')
  const code = /\b[0-9a-f]{10}\b/.exec(told)?.[0] ?? ''
  const account = { _token: tokenIn(door.text), code, name: 'Owner', password: 'a long enough word', start: 'demonstration' }
  const made = await browser.ask('/garage/first-run', { form: account })
  say('the first run, from another address, with the code of the log', made.status === 303, `${made.status} ${made.text.slice(0, 300)}`)
  say(
    'cookies are bound to https and to the folder',
    [...browser.cookies.keys()].every((name) => name.startsWith('__Secure-')),
    [...browser.cookies.keys()],
  )
  const searched = await browser.ask('/garage/search?q=10%2F32%20%25%C3%A9')
  say('a search goes on as it was encoded', searched.text.includes('value="10/32 %é"'), searched.status)
  const home = await browser.ask('/garage/')
  const [, vehicle = ''] = /href="(\/garage\/vehicles\/[0-9a-f-]{36})"/.exec(home.text) ?? []
  const token = tokenIn(home.text)
  const sent = await browser.ask(`${vehicle}/photos`, { photo: { bytes: photo, token } })
  say(`a photo of ${Math.round(photo.length / 1e6)} MB`, sent.status === 303 && sent.location.startsWith('/garage/'), sent.status)
  const large = await browser.ask(`${vehicle}/photos`, { photo: { bytes: Buffer.alloc(60_000_000), token } })
  say('one of 60 MB is refused by Loombook in its own words', large.status === 413 && large.text.includes('At most 50 MB'), large.status)
  const foreign = await browser.ask('/garage/sessions/end', { form: { _token: token }, origin: 'https://elsewhere.example' })
  say('a form of another site is refused', foreign.status === 403, foreign.status)
  const made_up = { 'x-forwarded-for': MADE_UP, 'x-forwarded-host': 'elsewhere.example', 'x-forwarded-proto': 'http' }
  const again = browserAt(port, made_up)
  const login = await again.ask('/garage/login')
  const signed = await again.ask('/garage/sessions', {
    form: { _token: tokenIn(login.text), name: 'Owner', password: 'a long enough word' },
  })
  say('in, whatever the caller writes of address, host and scheme', signed.status === 303 && signed.location === '/garage/', [
    signed.status,
    signed.location,
  ])
  const sessions = await again.ask('/garage/account')
  say(
    'each session has the caller’s own address',
    sessions.text.split(CALLER).length === 3 && !sessions.text.includes(MADE_UP),
    sessions.status,
  )
  const strange = await browserAt(port, { host: 'elsewhere.example' }).ask('/garage/login')
  say('another name is not answered', strange.status >= 400 || strange.status === 0 || strange.text === '', strange.status)
  return lines
}

type Asked = {
  readonly form?: Record<string, string>
  readonly photo?: { readonly bytes: Buffer; readonly token: string }
  readonly origin?: string
}

function browserAt(port: number, more: Record<string, string> = {}) {
  const cookies = new Map<string, string>()
  const ask = (path: string, given: Asked = {}) =>
    new Promise<{ status: number; location: string; text: string }>((resolve, reject) => {
      const body = given.form ? Buffer.from(new URLSearchParams(given.form).toString()) : given.photo ? multipart(given.photo) : null
      const type = given.form ? 'application/x-www-form-urlencoded' : 'multipart/form-data; boundary=b'
      const headers = {
        host: `${HOST}:${port}`,
        cookie: [...cookies].map((one) => one.join('=')).join('; '),
        ...(body && { 'content-type': type, 'content-length': String(body.length), origin: given.origin ?? `https://${HOST}:${port}` }),
        ...more,
      }
      const where = { host: '127.0.0.1', port, servername: HOST, localAddress: CALLER, ca: readFileSync(tls.cert), path, headers }
      const sent = request({ ...where, method: body ? 'POST' : 'GET' }, (reply) => {
        let text = ''
        reply.setEncoding('utf8').on('data', (piece) => {
          text += piece
        })
        reply.on('end', () => {
          for (const line of reply.headers['set-cookie'] ?? []) {
            const [, name = '', value = ''] = /^([^=]+)=([^;]*)/.exec(line) ?? []
            if (value !== '') cookies.set(name, value)
          }
          resolve({ status: reply.statusCode ?? 0, location: reply.headers.location ?? '', text })
        })
      })
      sent.on('error', reject)
      sent.end(body ?? undefined)
    })
  return { cookies, ask }
}

function multipart({ bytes, token }: { readonly bytes: Buffer; readonly token: string }): Buffer {
  const head = (words: string) => `--b\r\nContent-Disposition: form-data; ${words}\r\n\r\n`
  return Buffer.concat([
    Buffer.from(`${head('name="_token"')}${token}\r\n${head('name="photo"; filename="a.jpg"')}`),
    bytes,
    Buffer.from('\r\n--b--\r\n'),
  ])
}

async function opened(port: number, child: ChildProcess): Promise<void> {
  for (let n = 0; n < 100; n++) {
    if (child.exitCode !== null) throw new Error(`it ended with ${child.exitCode}`)
    const isOpen = await browserAt(port)
      .ask('/')
      .then(() => true)
      .catch(() => false)
    if (isOpen) return
    await wait(100)
  }
  throw new Error('it did not open')
}

function certificate(): Place['tls'] {
  const [key, cert] = [join(folder, 'key.pem'), join(folder, 'cert.pem')]
  const asked = ['-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes', '-days', '2', '-subj', `/CN=${HOST}`]
  execFileSync('openssl', ['req', '-x509', ...asked, '-addext', `subjectAltName=DNS:${HOST}`, '-keyout', key, '-out', cert], {
    stdio: 'ignore',
  })
  return { key, cert }
}

function keep(at: string, name: string, text: string): string {
  const path = join(at, name)
  writeFileSync(path, text)
  return path
}

function freePort(): Promise<number> {
  return new Promise((resolve) => {
    const server = createServer().listen(0, '127.0.0.1', () => {
      const { port } = server.address() as { port: number }
      server.close(() => resolve(port))
    })
  })
}
