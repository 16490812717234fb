/** Run by itself: has a backup made by a process of its own, and says when it is at work. Given database, data folder, folder of backups. */
import { existsSync, readdirSync } from 'node:fs'
import { openDatabase } from '../../server/records/database.ts'
import { inNightProcess } from '../../server/records/night-processes.ts'

if (process.argv[1] === import.meta.filename) {
  const [file = '', data = '', folder = ''] = process.argv.slice(2)
  void inNightProcess(openDatabase(file), 'backup', { file, data, now: '2026-11-27T12:00:00.000Z', folder })
  const timer = setInterval(() => {
    if (!holdsPhotos(folder)) return
    clearInterval(timer)
    process.stdout.write('at work\n')
  }, 1)
}

/** Whether a backup in the folder, whole or not, has taken some. */
export function holdsPhotos(folder: string): boolean {
  return existsSync(folder) && readdirSync(folder, { recursive: true }).some((name) => String(name).endsWith('.jpg'))
}
