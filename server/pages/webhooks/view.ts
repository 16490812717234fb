import type { Delivery, WebhookFacts } from '../../records/webhooks.ts'
import { instantWords } from '../../web/format.ts'
import type { ShownFault } from '../shared/faults.ts'

export type View = {
  readonly faults: readonly ShownFault[]
  /** what became of a press that came back here; empty: nothing */
  readonly done: string
  /** of one just added; empty: none */
  readonly secret: string
  readonly typed: string
  readonly webhooks: readonly {
    readonly id: string
    readonly url: string
    readonly last: string
    readonly waiting: string
    readonly isRevoked: boolean
  }[]
}

const EVENTS: Readonly<Record<string, string>> = {
  'finding-over': 'a finding over its limit',
  due: 'something due',
  alarm: 'a late backup or damaged records',
  test: 'a test',
}

export function view(given: {
  readonly webhooks: readonly WebhookFacts[]
  readonly faults: readonly ShownFault[]
  readonly done: string
  readonly secret: string
  readonly typed: string
  readonly timeZone: string
}): View {
  return {
    faults: given.faults,
    done: given.done,
    secret: given.secret,
    typed: given.typed,
    webhooks: [...given.webhooks].reverse().map(({ id, url, last, waiting, isRevoked }) => ({
      id,
      url,
      last: last === null ? 'Nothing was sent yet.' : lastWords(last, given.timeZone),
      waiting: waiting === 0 ? '' : `${waiting} waiting to be sent`,
      isRevoked,
    })),
  }
}

function lastWords(last: Delivery, timeZone: string): string {
  const next = last.nextAt === null ? '' : ` Tried again ${instantWords(last.nextAt, timeZone)}.`
  return `Last, ${EVENTS[last.event] ?? last.event} of ${instantWords(last.recordedAt, timeZone)}: ${last.says}${next}`
}
