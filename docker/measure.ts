/**
 * `node --import tsx docker/measure.ts DIR` tells of a bundle in DIR, and of the sources as `npm start` runs them: the time from the start of
 * the process to the first answer, and the memory it holds at rest. An empty installation; each start on a data directory of its own.
 */
import { spawn } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { asTheImageStartsIt } from './as-the-image.ts'

const STARTS = 7
const RESTS_ms = 8000
const [folder] = process.argv.slice(2)
if (folder === undefined) {
  process.stderr.write('Usage: node --import tsx docker/measure.ts DIR\n')
  process.exit(2)
}
const { command, env } = asTheImageStartsIt()
await report('bundle', command, folder, env)
await report('npm start', ['npm', 'start', '--silent'], join(import.meta.dirname, '..'), {})

async function report(name: string, command: readonly string[], cwd: string, own: NodeJS.ProcessEnv): Promise<void> {
  const first_ms: number[] = []
  const worked_s: number[] = []
  const rest_MB: number[] = []
  for (let n = 0; n < STARTS; n++) {
    const one = await start(command, { cwd, own, port: 18_400 + n, rests: n === 0 })
    first_ms.push(one.first_ms)
    worked_s.push(one.worked_s)
    if (one.rest_MB !== null) rest_MB.push(one.rest_MB)
  }
  const middle_at = Math.floor(STARTS / 2)
  first_ms.sort((a, b) => a - b)
  const [least, middle, most] = [0, middle_at, STARTS - 1].map((at) => ((first_ms[at] as number) / 1000).toFixed(2))
  const worked = worked_s.sort((a, b) => a - b)[middle_at]?.toFixed(2)
  process.stdout.write(
    `${name}: first answer after ${middle} s (${least} to ${most} of ${STARTS}), ${worked} s of processor time till then, ${rest_MB[0]?.toFixed(0)} MB at rest\n`,
  )
}

async function start(
  command: readonly string[],
  how: { readonly cwd: string; readonly own: NodeJS.ProcessEnv; readonly port: number; readonly rests: boolean },
) {
  const data = mkdtempSync(join(tmpdir(), 'loombook-measure-'))
  const [program = '', ...rest] = command
  const env = { ...process.env, ...how.own, LOOMBOOK_DATA: data, LOOMBOOK_PORT: String(how.port), LOOMBOOK_LOG_LEVEL: 'warn' }
  const from_ms = performance.now()
  // A group of its own: npm starts the server as its child.
  const child = spawn(program, rest, { cwd: how.cwd, env, stdio: 'ignore', detached: true })
  const answers = () =>
    fetch(`http://127.0.0.1:${how.port}/first-run`).then(
      (reply) => reply.ok,
      () => false,
    )
  while (!(await answers())) await wait(10)
  const first_ms = performance.now() - from_ms
  const holder = JSON.parse(readFileSync(join(data, 'instance.json'), 'utf8')) as { process: number }
  const worked_s = processorTime_s(holder.process)
  if (how.rests) await wait(RESTS_ms)
  const status = readFileSync(`/proc/${holder.process}/status`, 'utf8')
  const rest_MB = how.rests ? Number(/VmRSS:\s+(\d+)/.exec(status)?.[1]) / 1024 : null
  const ended = new Promise((resolve) => child.once('exit', resolve))
  process.kill(holder.process, 'SIGTERM')
  await ended
  rmSync(data, { recursive: true, force: true })
  return { first_ms, worked_s, rest_MB }
}

/** What a process has used of the processors: on a machine with nothing else to do, about the time that has passed. proc(5): fields 14, 15 of stat, in hundredths. */
function processorTime_s(id: number): number {
  const fields = readFileSync(`/proc/${id}/stat`, 'utf8')
    .replace(/^.*\) /, '')
    .split(' ')
  return (Number(fields[11]) + Number(fields[12])) / 100
}
