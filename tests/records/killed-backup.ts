/** Makes a backup and kills itself at the k-th call of the disk: database, data folder, folder of backups, k. */
import { makeBackup } from '../../server/records/backup.ts'
import { systemClock } from '../../server/records/clock.ts'
import { openDatabase } from '../../server/records/database.ts'
import { type Files, realFiles } from '../../server/records/files.ts'

const [file = '', data = '', folder = '', point] = process.argv.slice(2)
let calls = 0
const files = Object.fromEntries(
  Object.entries(realFiles).map(([name, call]) => [
    name,
    (...given: unknown[]) => {
      calls += 1
      if (calls === Number(point)) process.kill(process.pid, 'SIGKILL')
      return (call as (...all: unknown[]) => unknown)(...given)
    },
  ]),
) as Files
await makeBackup({ db: openDatabase(file), clock: systemClock, data, folder, files })
