import { Refusal } from './client'
import type { CalmCalls, Fleet, FleetRocket, Loaded, Plan, RocketTold, Site, StageTold } from './calm'
import type { LatLon, Rocket, WindReading } from './generated'

// A flyer's rockets, fields and day in memory, in the shape of the core's, for unit tests and for looking at the
// screens without the core. It draws no conclusion: no figure comes of a word, no order of a walk.

const stageOf = ({ motor, comes_down_on }: StageTold) => ({
  motor: motor ?? null,
  recovery: comes_down_on === 'parachute' ? ({ kind: 'parachute', shape: 'round' } as const) : ({ kind: comes_down_on } as const),
  splits_into: [],
})
const rocketOf = (id: string | null, told: RocketTold): Rocket => ({ id, name: told.name, stages: told.stages.map(stageOf) })

/** A rocket of the fleet that nothing was told of but how it flies. */
export const fleetRocket = (id: string, rocket: Rocket): FleetRocket => ({
  id, rocket, told: null, parts: ['rocket'], doubts: [], to_repair: [], flights: 0, last_flown: null, last_failure: null, retired: false,
})

/** As it usually flies. */
export const loadedOf = (rocket: FleetRocket): Loaded => ({
  rocket, motor: rocket.told?.stages.at(-1)?.motor ?? null, lower_motor: (rocket.told?.stages.length ?? 0) > 1 ? (rocket.told?.stages[0]?.motor ?? null) : null, comes_down_on: rocket.told?.stages[0]?.comes_down_on ?? 'parachute',
  tilt_deg: null, lean_toward_deg: null, doubts: [], on_hand: null, lower_on_hand: null,
})

/** The calm calls of a core that answers at once. */
export function fakeCalm(): CalmCalls {
  const rockets = new Map<string, RocketTold>()
  const motors = new Map<string, number>()
  const repairs = new Map<string, string[]>()
  const sites = new Map<string, Site>()
  const gone = new Set<string>()
  const wind: WindReading[] = []
  let plan: Plan = { load: [] }
  const refused = (what: string) => Promise.reject(new Refusal('not_invented', `${what} is not invented here.`))
  const fleet = (): Fleet => ({
    rockets: [...rockets].map(([id, told]) => ({
      id,
      told,
      rocket: rocketOf(id, told),
      parts: ['rocket'],
      doubts: [],
      to_repair: repairs.get(id) ?? [],
      flights: 0,
      last_flown: null,
      last_failure: null,
      retired: gone.has(id),
    })),
    motors: [...motors].map(([motor, on_hand]) => ({ motor, on_hand })),
  })
  const day = () => {
    const site = plan.site ? (sites.get(plan.site) ?? null) : null
    return {
      date: '2031-05-11',
      plan,
      last_time: null,
      site,
      pad: site?.pads[0] ?? null,
      load: fleet()
        .rockets.filter((rocket) => plan.load.some((it) => it.rocket === rocket.id))
        .map(loadedOf),
      wind,
      readings: wind.map((reading, index) => ({ id: `wind-${String(index + 1)}`, reading, force: 2, set_aside_by: null })),
      aloft: [],
      unused_near: 0,
      weather: null,
      air: null,
      flown: [],
      force: wind.length > 0 ? 2 : null,
      look_deg: null,
      above_limit: false,
      open: [],
    }
  }
  return {
    sketchRocket: (told) => Promise.resolve({ rocket: rocketOf(null, told), parts: ['rocket'], doubts: [] }),
    fleet: () => Promise.resolve(fleet()),
    keepRocket: (known, told) => {
      const id = known ?? `rocket-${String(rockets.size + 1)}`
      rockets.set(id, told)
      return Promise.resolve(id)
    },
    retireRocket: (rocket, retired) => {
      if (retired) gone.add(rocket)
      else gone.delete(rocket)
      return Promise.resolve(fleet())
    },
    noteRepair: (rocket, { note, done }) => {
      const others = (repairs.get(rocket) ?? []).filter((it) => it !== note)
      repairs.set(rocket, done ? others : [...others, note])
      return Promise.resolve(fleet())
    },
    changeStock: (motor, change) => {
      motors.set(motor, (motors.get(motor) ?? 0) + change)
      return Promise.resolve(fleet())
    },
    sites: () => Promise.resolve([...sites.values()]),
    keepSite: ({ id: known, field, pad, base, permission }) => {
      const id = known ?? `site-${String(sites.size + 1)}`
      const before = sites.get(id)
      const pads = (before?.pads ?? []).filter((it) => it.name !== pad?.name)
      sites.set(id, {
        id,
        field: { ...field, id },
        pads: pad ? [...pads, pad] : pads,
        base: base ?? before?.base ?? null,
        permissions: [...(before?.permissions ?? []), ...(permission ? [permission] : [])],
        looked: before?.looked ?? [],
        unchecked: null,
        background: null,
      })
      return Promise.resolve(id)
    },
    lookDownwind: (id, look) => {
      const site = sites.get(id)
      if (!site) return refused('This field')
      const seen = { ...site, looked: [...site.looked, look] }
      sites.set(id, seen)
      return Promise.resolve(seen)
    },
    dropLook: (id, look) => {
      const site = sites.get(id)
      if (!site) return refused('This field')
      const bare = { ...site, looked: site.looked.filter((it) => JSON.stringify(it) !== JSON.stringify(look)) }
      sites.set(id, bare)
      return Promise.resolve(bare)
    },
    renamePad: (id, pad, name) => {
      const site = sites.get(id)
      if (!site) return refused('This field')
      const renamed = { ...site, pads: site.pads.map((it) => (it.name === pad ? { ...it, name } : it)) }
      sites.set(id, renamed)
      return Promise.resolve(renamed)
    },
    dropPad: (id, pad) => {
      const site = sites.get(id)
      if (site) sites.set(id, { ...site, pads: site.pads.filter((it) => it.name !== pad) })
      return Promise.resolve('aside')
    },
    writeSite: (id) => Promise.resolve(JSON.stringify(sites.get(id))),
    takeSite: () => refused('A field of another phone'),
    importMap: () => refused('A map'),
    bringFile: () => refused('A file'),
    fitPicture: () => refused('A picture'),
    keepBackground: () => refused('A picture'),
    dropBackground: () => refused('A picture'),
    background: () => Promise.resolve(null),
    backgroundPicture: () => refused('A picture'),
    tilesOver: () => Promise.resolve([]),
    backgroundTile: () => refused('A tile'),
    photos: () => Promise.resolve([]),
    addPhoto: () => refused('A photo'),
    takeWeather: () => refused('The weather'),
    mayComeDown: () => Promise.resolve(null),
    compareLeans: () => Promise.resolve(null),
    day: () => Promise.resolve(day()),
    keepDay: (it) => {
      plan = it
      return Promise.resolve(day())
    },
    tellWind: () => {
      wind.push({ from_deg: 240, speed_mps: 2.4, north: 'true', method: 'feel' })
      return Promise.resolve(day())
    },
    readyFlights: () => {
      const { pad } = day()
      const ready = (at: LatLon & { accuracy_m?: number | null }) =>
        fleet().rockets.map((it) => ({
          loaded: loadedOf(it),
          rocket: it.id,
          name: it.rocket.name ?? '',
          flight: {
            format: 'windfall-flight/1', id: null, title: null, pad: { lat: at.lat, lon: at.lon, accuracy_m: at.accuracy_m ?? null }, field: null, air: null,
            wind, rocket: it.rocket, launch: { at: null }, evidence: [],
          },
          has_pad: pad !== null,
        }))
      return Promise.resolve(ready(pad ?? { lat: 0, lon: 0, accuracy_m: 1e6 }))
    },
    likes: () => Promise.resolve(null),
    keepLikes: () => Promise.resolve(),
    pickUp: () => Promise.resolve({ waiting: [], round: { legs: [], back_m: 0, any_marked: false }, left_out: [], not_yet: [] }),
    showSomeone: () =>
      Promise.resolve({
        date: '2031-05-11', field: null, rockets: [], heaviest_g: null, heaviest_is_guessed: false, heaviest_lifts_off: null, weights_unknown: [], wind_toward_deg: null, biggest_motor: null, force: null, wind_mps: null,
        wind_limit_mps: null, permission: null, water: null, labelled: false,
      }),
    listLog: () => Promise.resolve([]),
    story: () => refused('A story'),
    giveUp: () => Promise.resolve(),
    searchAgain: () => Promise.resolve(),
    checkHeading: () => refused('A check'),
    headingChecks: () => Promise.resolve([]),
    setAside: () => Promise.resolve('aside'),
    undo: () => Promise.resolve(),
    driftByWind: () => Promise.resolve({ finds: [], rates: [] }),
    seasonStart: () => Promise.resolve({ to_repair: [], motors_out: [], motors_flown: [], altimeter: false }),
    beliefs: () => Promise.resolve({ flights: 0, read: 0, sentences: [], said: [], unread: [] }),
    beliefsProgress: () => Promise.resolve({ done: 0, all: 0 }),
    logbookStanding: () =>
      Promise.resolve({
        is_kept: true, is_open: true, trouble: null, flights: 41, days: 6, photos: 12, backup: { at: '2031-05-11T08:12:00+02:00' },
        may_replace: false, offered: null,
      }),
    checkLogbook: () => Promise.resolve({ said: [], backup_is_whole: true }),
    backUp: () => Promise.resolve(),
    restoreBackup: () => refused('A backup'),
    takeOut: (format) => Promise.resolve(new TextEncoder().encode(format).buffer),
    putIn: () => refused('A file'),
    shareTarget: () => Promise.resolve('geo:44,-38;u=40'),
    shareSeen: () => Promise.resolve('{"format":"windfall-seen/1","title":null,"launched_at":null,"seen":[]}'),
    takeShared: (text, into) =>
      text.startsWith('geo:')
        ? Promise.resolve({ kind: 'target', at: { lat: 44, lon: -38 }, accuracy_m: 40 })
        : Promise.resolve({ kind: 'seen', title: null, launched_at: null, pieces: 0, into }),
  }
}
