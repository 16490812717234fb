import { type Backup, megabytes } from '../../records/backup.ts'
import { isStale, type Job, type JobFacts } from '../../records/jobs.ts'
import { holds, whenIn } from '../shared/backup-words.ts'
import type { ShownFault } from '../shared/faults.ts'

export type View = {
  readonly says: string
  readonly faults: readonly ShownFault[]
  readonly readOnly: string
  readonly last: string
  readonly isLate: boolean
  readonly logOfWrites: string
  readonly backups: readonly { readonly name: string; readonly when: string; readonly holds: string }[]
  readonly jobs: readonly { readonly title: string; readonly when: string; readonly says: string }[]
}

const HOUR_ms = 3_600_000
const LATE_h = 36

export function view(given: {
  readonly backups: readonly Backup[]
  readonly jobs: readonly { readonly job: Job; readonly last: JobFacts | undefined }[]
  readonly readOnly: string
  readonly logOfWrites_bytes: number
  readonly now: Date
  readonly timeZone: string
  readonly says: string
  readonly faults: readonly ShownFault[]
}): View {
  const when = whenIn(given.timeZone)
  const [newest] = given.backups
  const age_h = newest ? (given.now.getTime() - Date.parse(newest.contents.made_at)) / HOUR_ms : null
  return {
    says: given.says,
    faults: given.faults,
    readOnly: given.readOnly,
    last:
      newest && age_h !== null
        ? `Last good backup: ${ageWords(age_h)}, ${holds(newest)}.`
        : 'There is no backup yet. One is made every night, and whenever you ask.',
    logOfWrites: megabytes(given.logOfWrites_bytes),
    isLate: age_h === null || age_h > LATE_h,
    backups: given.backups.map((one) => ({ name: one.name, when: when(one.contents.made_at), holds: holds(one) })),
    jobs: given.jobs.map(({ job, last }) => ({
      title: job.title,
      when: last
        ? `${when(last.startedAt)}${job.every === 'night' && isStale(last, given.now) ? ', late' : ''}`
        : `not yet; every ${job.every}`,
      says: last ? (last.result === null ? 'running' : last.result === 'failed' ? `failed: ${last.says}` : last.says) : '',
    })),
  }
}

export type BackupView = {
  readonly name: string
  readonly says: string
  readonly faults: readonly ShownFault[]
  readonly facts: readonly { readonly label: string; readonly value: string }[]
}

export function backupView(
  backup: Backup,
  given: { readonly says: string; readonly faults: readonly string[]; readonly timeZone: string },
): BackupView {
  const { contents } = backup
  return {
    name: backup.name,
    says: given.says,
    faults: given.faults.map((says) => ({ field: '', label: '', says, link: '' })),
    facts: [
      { label: 'Made', value: whenIn(given.timeZone)(contents.made_at) },
      { label: 'Holds', value: holds(backup) },
      { label: 'Version', value: String(contents.schema_version) },
      ...(contents.missing > 0 ? [{ label: 'Missing when it was made', value: `${contents.missing} originals` }] : []),
    ],
  }
}

function ageWords(age_h: number): string {
  if (age_h < 1) return 'less than an hour ago'
  const hours = Math.floor(age_h)
  return hours < 48 ? `${hours} hour${hours === 1 ? '' : 's'} ago` : `${Math.floor(hours / 24)} days ago`
}
