/** Figures about the records that whoever watches this installation may ask for. Nothing of what they say. */
import type { Db } from './database.ts'
import { freeBytes } from './file-system.ts'
import { jobsOf } from './jobs.ts'
import { databaseSizes } from './storage.ts'

type Sample = { readonly value: number; readonly labels?: { readonly job: string } }
type Figure = { readonly name: string; readonly help: string; readonly values: () => Promise<readonly Sample[]> | readonly Sample[] }

export function gauges({ db, data }: { readonly db: Db; readonly data: string }): readonly Figure[] {
  return [
    {
      name: 'loombook_database_bytes',
      help: 'Size of the database file.',
      values: async () => [{ value: (await databaseSizes(db)).database_bytes }],
    },
    {
      name: 'loombook_database_log_bytes',
      help: 'Size of the log of writes beside the database file.',
      values: async () => [{ value: (await databaseSizes(db)).log_bytes }],
    },
    {
      name: 'loombook_free_bytes',
      help: 'Bytes that may still be written where the records are kept.',
      values: async () => [{ value: await freeBytes(data) }],
    },
    {
      name: 'loombook_job_last_end_timestamp_seconds',
      help: 'When each job last ended, in seconds since 1970.',
      values: () =>
        jobsOf(db).flatMap(({ name, endedAt }) => (endedAt === null ? [] : [{ value: Date.parse(endedAt) / 1000, labels: { job: name } }])),
    },
    {
      name: 'loombook_job_failed',
      help: '1 where the last run of a job failed, else 0.',
      values: () =>
        jobsOf(db).flatMap(({ name, result }) => (result === null ? [] : [{ value: result === 'failed' ? 1 : 0, labels: { job: name } }])),
    },
  ]
}
