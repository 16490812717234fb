/** What the pages that are meant for paper share. */
import type { FastifyInstance, FastifyRequest } from 'fastify'
import { plainForm } from '../../records/plain-form.ts'
import { type Day, dayFrom, statusOf } from './vehicle-facts.ts'

/** The day asked for, or today. Paper is never made of another day than the one asked for: a day that is none is refused. */
export function wantedDay(app: FastifyInstance, request: FastifyRequest): Day {
  const day = dayFrom(app, request)
  if (day.fault !== '') throw Object.assign(new Error(day.fault), { statusCode: statusOf(day) })
  return day
}

/** A file's name that any system takes: "fuse-chart-block-b". */
export function fileNameOf(words: string): string {
  const plain = plainForm(words, 'NFKD')
    .toLowerCase()
    .replaceAll(/[^a-z0-9]+/g, '-')
    .replaceAll(/^-+|-+$/g, '')
    .slice(0, 80)
  return plain === '' ? 'loombook' : plain
}
