/** What a fault is answered with: its status, and what is told of it. Said once, for pages and for programs, so that both say the same. */

/** How a fault of the database or the disk is known. */
export type Signs = {
  /** what the database and the disk say where there is no room */
  readonly isFull: (fault: unknown) => boolean
  /** what the database says where its file cannot be read */
  readonly isDamage: (fault: unknown) => boolean
  /** what the database says where another program holds it, longer than is waited for */
  readonly isInUse: (fault: unknown) => boolean
}
/** `refused`: it carries its own status and words. `ours`: nobody but us is to blame. */
export type FaultSort = 'no-room' | 'in-use' | 'damaged' | 'refused' | 'ours'
export type Told = { readonly sort: FaultSort; readonly status: number; readonly says: string }

export function told(fault: Error & { readonly statusCode?: number }, { isFull, isDamage, isInUse }: Signs): Told {
  if (isFull(fault)) return OUTSIDE['no-room']
  if (isDamage(fault)) return OUTSIDE.damaged
  if (isInUse(fault)) return OUTSIDE['in-use']
  const status = fault.statusCode ?? 500
  if (status < 500 || status === 503) return { sort: 'refused', status, says: fault.message }
  return { sort: 'ours', status, says: 'Something went wrong on our side. Nothing was saved.' }
}

/** RFC 9110, 10.2.3: who is told to come back is told when; null where nothing is said of it. */
export function retryAfter_s(status: number): string | null {
  return status === 503 ? '5' : null
}

const OUTSIDE: Readonly<Record<'no-room' | 'in-use' | 'damaged', Told>> = {
  'no-room': {
    sort: 'no-room',
    status: 507,
    says: 'The disk is full: nothing was saved. Make room on it, then try again; what is here can be read meanwhile.',
  },
  'in-use': {
    sort: 'in-use',
    status: 503,
    says: 'The records are in use by another program at the moment. Nothing was saved: try again in a few seconds.',
  },
  damaged: {
    sort: 'damaged',
    status: 503,
    says: 'Records here are damaged, so this cannot be shown. Nothing is written until a good backup is restored: an owner does that under /rescue.',
  },
}
