import { partKinds } from '../parts/index.ts'
import { figure } from './figure.ts'
import { defineRule, workedRating } from './rule.ts'

export const zoneHeat = defineRule({
  id: 'zone-heat',
  title: 'Heat of the place',
  why: 'A part outlives its place only if it stands the hottest hour there, engine stopped and soaking.',
  formula: 'peak_degC of its zone, else ambient_degC ≤ maxAmbient_degC',
  limits: 'Over above the part’s highest ambient; never tight.',
  judgedIn: 'part',
  appliesTo: partKinds.map((kind) => kind.id),
  needs: ['maxAmbient_degC', 'peak_degC or ambient_degC of its zone'],
  sources: [
    { title: 'the part’s own sheet', place: 'highest ambient temperature', grade: 'read' },
    { title: 'SAE J1211', place: 'temperatures of zones, where the owner looks for a figure', grade: 'memory' },
  ],
  remedy: 'Move it to a cooler place, shield it, or fit a part rated for this one.',
  read: ({ circuit, component }) => {
    const most = circuit.rating(component, 'maxAmbient_degC')
    if (!most) return null
    const zone = circuit.zoneOf(component)
    const { name } = circuit.component(component)
    const peak = zone?.peak_degC ?? zone?.ambient_degC ?? null
    const grade = zone?.evidence?.[zone.peak_degC === undefined ? 'ambient_degC' : 'peak_degC'] ?? 'assumed'
    return {
      value: peak,
      limit: most.value,
      unit: '°C',
      tightAbove: null,
      missing: peak === null ? [zone ? `temperature of ${zone.name}` : 'its zone'] : [],
      grades: [most.grade, ...(peak === null ? [] : [grade])],
      subject: name,
      statement: `${name} is made for up to ${figure(most.value, '°C')}; ${
        !zone
          ? 'the zone it stands in is not recorded'
          : peak === null
            ? `how hot ${zone.name} gets is not known`
            : `${zone.name} reaches ${figure(peak, '°C')}`
      }.`,
      worked() {
        return [{ name: 'hottest in its zone', value: peak, unit: '°C', grade }, workedRating('highest ambient of the part', most, '°C')]
      },
    }
  },
})
