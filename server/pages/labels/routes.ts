import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { solvedOf } from '../../records/solved.ts'
import { FormReader } from '../../web/form.ts'
import { absolute } from '../../web/site.ts'
import { formFaults, type ShownFault } from '../shared/faults.ts'
import { wantedDay } from '../shared/on-paper.ts'
import { judgedOn, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { buildPageView, CHOICES, type Choice, view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/labels', async (request, reply) => show(request, reply, []))

  /** The link is shown in the code once and kept nowhere: it comes in the form, not in the address, so no log has it. */
  app.post('/vehicles/:id/labels/build-page', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = new FormReader(request.body)
    const link = form.text('link', { max: 500, required: 'Paste the link of a build page.' })
    if (link !== '' && !isBuildPage(link, absolute(request, '')))
      form.fault('link', `A build page’s link begins with ${absolute(request, '')}/b/ and is pasted whole.`)
    if (form.faults.length > 0)
      return show(
        request,
        reply,
        formFaults(form.faults, () => 'Link'),
      )
    return reply.page('labels/build-page', buildPageView({ vehicle, link }), {
      title: `Label for a build page of ${vehicle.name}`,
      heading: 'Label for a build page',
      section: 'vehicles',
      trail: trailOn(vehicle, wantedDay(app, request), { href: `/vehicles/${vehicle.id}/labels`, label: 'Labels' }),
      styles: ['on-paper'],
    })
  })

  const show = (request: FastifyRequest, reply: FastifyReply, faults: readonly ShownFault[]) => {
    const vehicle = vehicleFrom(app, request)
    const day = wantedDay(app, request)
    const { document } = judgedOn(app, request, vehicle.id, day)
    const query = new FormReader(request.query)
    const which = query.typed('which')
    const choice = (Object.hasOwn(CHOICES, which) ? which : 'usual') as Choice
    const given = {
      vehicle,
      document,
      circuit: solvedOf(document),
      choice,
      day,
      only: query.typed('only'),
      base: absolute(request, ''),
      faults,
    }
    return reply.page('labels/show', view(given), {
      title: `Labels of ${vehicle.name}`,
      heading: 'Labels',
      status: faults.length > 0 ? 422 : 200,
      section: 'vehicles',
      trail: trailOn(vehicle, day, { href: `/vehicles/${vehicle.id}/on-paper`, label: 'On paper' }),
      styles: ['on-paper'],
    })
  }
}

function isBuildPage(link: string, base: string): boolean {
  return link.startsWith(`${base}/b/`) && /^[A-Za-z0-9_-]{20,200}$/.test(link.slice(`${base}/b/`.length))
}
