/** `npm run config` prints every setting as the server would read it, secrets left out. Exit status 2: something is wrong, all of it named. */
import { readConfig } from '../config.ts'

const read = readConfig(process.env)
for (const line of [...read.warnings, ...(read.ok ? [] : read.faults)]) process.stderr.write(`${line}\n`)
if (read.ok) process.stdout.write(`${read.shown.join('\n')}\n`)
process.exitCode = read.ok ? 0 : 2
