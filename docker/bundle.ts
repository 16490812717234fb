/**
 * `node --import tsx docker/bundle.ts --out DIR` makes a folder that runs by itself with `node DIR/server/main.js`: the server and its
 * commands as a few files, templates, styles and migrations beside them, and of node_modules only what cannot be bundled. With `--bench`
 * the bench comes along, so that what is measured is what runs for years.
 */
import { cpSync, existsSync, mkdirSync, readdirSync, readFileSync, realpathSync, writeFileSync } from 'node:fs'
import { basename, dirname, join, relative } from 'node:path'
import { build, type Plugin } from 'esbuild'

const ROOT = join(import.meta.dirname, '..')
const SERVER = join(ROOT, 'server')
/** What a person runs; each lies beside main.js under its own name, and `npm run -s NAME` in the bundle runs it too. */
const COMMANDS = ['archive', 'check', 'config', 'password', 'restore']
/** Started by path, as a thread of its own, so it stays a file of its own where its starter looks for it. */
const THREADS = ['drawing/layout-thread.mjs']
/** Started by path, as a process of its own that runs our sources: what it begins with lies in the bundle beside main.js. */
const PROCESSES = ['records/night-process']
/** Native; or with files of their own that they look for beside them; or loaded late in a way that a bundle changes. */
const APART = ['better-sqlite3', 'sharp', 'pdfkit', 'elkjs', '@fontsource/ibm-plex-sans', '@fastify/cookie', 'cookie', 'prom-client']
const FOLDERS = ['migrations', 'static', 'views']
/** What only building needs. */
const LEFT_OUT = /(^|\/)(deps|src|test|tests|docs|build\/Release\/(obj|obj\.target|\.deps|test_extension\.node|sqlite3\.a))(\/|$)/

const at = process.argv.indexOf('--out')
const out = at < 0 ? undefined : process.argv[at + 1]
if (out === undefined || (existsSync(out) && readdirSync(out).length > 0)) {
  process.stderr.write('Usage: node --import tsx docker/bundle.ts --out DIR, where DIR is new or empty\n')
  process.exit(2)
}
await bundle(out, process.argv.includes('--bench') ? ['bench'] : [])

async function bundle(to: string, also: readonly string[]): Promise<void> {
  mkdirSync(to, { recursive: true })
  const { metafile } = await build({
    entryPoints: ['main', ...[...COMMANDS, ...also].map((name) => `commands/${name}`), ...PROCESSES].map((entry) =>
      join(SERVER, `${entry}.ts`),
    ),
    outdir: join(to, 'server'),
    entryNames: '[name]',
    bundle: true,
    splitting: true,
    format: 'esm',
    platform: 'node',
    target: 'node20',
    external: APART,
    metafile: true,
    sourcemap: false,
    legalComments: 'none',
    logLevel: 'warning',
    banner: { js: "import { createRequire as requireFrom } from 'node:module'; const require = requireFrom(import.meta.url);" },
    plugins: [ownPlace()],
  })
  for (const thread of THREADS) cpSync(join(SERVER, thread), join(to, 'server', thread))
  for (const one of PROCESSES) {
    mkdirSync(join(to, 'server', dirname(one)), { recursive: true })
    writeFileSync(join(to, 'server', `${one}.mjs`), `import '../${basename(one)}.js'\n`)
  }
  for (const folder of FOLDERS) cpSync(join(ROOT, folder), join(to, folder), { recursive: true })
  for (const name of APART) copyPackage(name, join(ROOT, 'node_modules'), to)
  const { name, version, license } = JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8')) as Record<string, string>
  const scripts = Object.fromEntries(COMMANDS.map((command) => [command, `node server/${command}.js`]))
  writeFileSync(
    join(to, 'package.json'),
    `${JSON.stringify({ name, version, license, private: true, type: 'module', scripts }, null, 2)}\n`,
  )
  cpSync(join(ROOT, 'LICENSE'), join(to, 'LICENSE'))
  cpSync(join(import.meta.dirname, 'healthcheck.js'), join(to, 'healthcheck.js'))
  writeFileSync(join(to, 'LICENSES.txt'), licenses(Object.keys(metafile.inputs)))
  process.stdout.write(`${Object.keys(metafile.outputs).length} files in ${join(to, 'server')}\n`)
}

/** A source that asks where it lies is told where it would lie below the bundle's own server folder. */
function ownPlace(): Plugin {
  return {
    name: 'own place',
    setup({ onLoad }) {
      onLoad({ filter: /\.ts$/ }, ({ path }) => {
        const text = readFileSync(path, 'utf8')
        if (!path.startsWith(SERVER) || !text.includes('import.meta.')) return undefined
        const place = `new URL(${JSON.stringify(relative(SERVER, path))}, import.meta.url)`
        const contents = text
          .replaceAll('import.meta.url', `${place}.href`)
          .replaceAll('import.meta.dirname', `decodeURIComponent(new URL('.', ${place}).pathname).replace(/\\/$/, '')`)
        return { contents, loader: 'ts' }
      })
    },
  }
}

/** A package as it is installed, with what it needs, each once. */
function copyPackage(name: string, from: string, to: string): void {
  const source = join(from, name)
  const target = join(to, 'node_modules', name)
  if (!existsSync(source) || existsSync(target)) return
  const top = realpathSync(source)
  cpSync(top, target, { recursive: true, dereference: true, filter: (path) => !isLeftOut(name, relative(top, path)) })
  const wants = JSON.parse(readFileSync(join(source, 'package.json'), 'utf8')) as Record<string, Record<string, string> | undefined>
  for (const other of Object.keys({ ...wants.dependencies, ...wants.optionalDependencies }))
    copyPackage(other, existsSync(join(source, 'node_modules', other)) ? join(source, 'node_modules') : from, to)
}

function isLeftOut(name: string, path: string): boolean {
  return name === 'better-sqlite3' && LEFT_OUT.test(path)
}

/** The licence texts of what was bundled: each asks to be passed on. */
function licenses(inputs: readonly string[]): string {
  const folders = new Set(
    inputs.flatMap((input) => /^(?:.*\/)?node_modules\/(?:@[^/]+\/)?[^/]+/.exec(relative(ROOT, join(process.cwd(), input)))?.[0] ?? []),
  )
  return [...folders]
    .sort()
    .map((folder) => {
      const file = readdirSync(join(ROOT, folder)).find((name) => /^licen[cs]e/i.test(name))
      const text = file ? readFileSync(join(ROOT, folder, file), 'utf8') : `(no text is shipped with it)\n`
      return `${folder.replace(/^.*node_modules\//, '')}\n${'-'.repeat(40)}\n${text}`
    })
    .join('\n\n')
}
