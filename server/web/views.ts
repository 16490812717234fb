/** Pages from templates: escaped, and refusing to print what is not there. */
import { Eta } from 'eta'
import type { FastifyReply, FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'
import { absolute } from './site.ts'

export type Given = {
  readonly title: string
  /** the heading, where it is shorter than the title */
  readonly heading?: string
  readonly status?: number
  readonly section?: string
  /** the pages above this one, first page first */
  readonly trail?: readonly { readonly href: string; readonly label: string }[]
  /** the page holds a piece that is swapped in place where scripts run */
  readonly swaps?: boolean
  /** names of small scripts of its own */
  readonly scripts?: readonly string[]
  /** names of style sheets of its own, for what is printed to a measure */
  readonly styles?: readonly string[]
}

declare module 'fastify' {
  interface FastifyReply {
    page(template: string, view: object, given: Given): FastifyReply
    /** a piece of a page, by itself */
    fragment(template: string, view: object, given?: { readonly status?: number }): FastifyReply
  }
}

/** What stands on top of every page while it lasts; `href` is empty where the reader can do nothing about it. */
export type Alarm = { readonly says: string; readonly href: string; readonly link: string }
type Options = { readonly folder: string; readonly alarm?: (request: FastifyRequest) => Alarm | null }

export const views = plugin<Options>(async (app, { folder, alarm = () => null }) => {
  const eta = new Eta({ views: folder, cache: true, autoEscape: true, autoFilter: true, filterFunction: printable })
  const day = new Intl.DateTimeFormat('en-GB', { dateStyle: 'long', timeZone: app.config.timeZone })
  app.decorateReply('page', function (template, view, given) {
    const { request } = this
    const page = {
      title: given.title,
      heading: given.heading ?? given.title,
      section: given.section ?? '',
      trail: given.trail ?? [],
      swaps: given.swaps === true,
      scripts: [...(request.signedIn ? ['draft'] : []), ...(given.scripts ?? [])],
      styles: given.styles ?? [],
      formToken: request.keeping ? app.tokenPlace : request.formToken,
      person: request.signedIn ? request.actor.name : '',
      signedIn: request.signedIn,
      alarm: request.signedIn ? alarm(request) : null,
      address: absolute(request, request.url),
      today: day.format(app.clock.now()),
    }
    return html(this, this.filled(eta.render(`/${template}`, strict({ ...view, page })), given.status ?? 200), given.status)
  })
  app.decorateReply('fragment', function (template, view, given = {}) {
    return html(this, eta.render(`/${template}`, strict(view)), given.status)
  })
})

function html(reply: FastifyReply, text: string | Buffer, status = 200): FastifyReply {
  return reply.status(status).header('cache-control', 'no-store').type('text/html; charset=utf-8').send(text)
}

/** Undefined, null and NaN never reach paper. */
function printable(value: unknown): string {
  if (value === undefined || value === null || (typeof value === 'number' && !Number.isFinite(value)))
    throw new Error(`A page would print ${String(value)}.`)
  return String(value)
}

/** A name that the view lacks is a fault, not an empty place. */
function strict(view: object): object {
  return new Proxy(view, {
    get(target, name) {
      if (typeof name === 'string' && !(name in target) && name !== 'body' && name !== 'toJSON')
        throw new Error(`The view has no "${name}".`)
      return Reflect.get(target, name)
    },
  })
}
