import { Refusal, type Backend, type FlightSummary } from './client'
import { fakeCalm } from './fakeCalm'
import type { Answer, Flight, Geometry, LatLon, Mode, ModeAnswer, PartAnswer, Region, Rough, Said, Sentence } from './generated'

// Invented answers in the shape of the core's, far out at sea so that they are nobody's land. For unit tests and
// for looking at the screens without the core; never part of a program that is handed out.
const PAD: LatLon = { lat: 44, lon: -38 }

const at = (east_m: number, north_m: number): LatLon => ({ lat: PAD.lat + north_m / 111_115, lon: PAD.lon + east_m / 80_170 })
const lonLat = (east_m: number, north_m: number) => {
  const { lat, lon } = at(east_m, north_m)
  return [lon, lat]
}
const polygon = (...corners: [number, number][]): Geometry => ({
  type: 'Polygon',
  coordinates: [[...corners, corners[0] ?? [0, 0]].map(([east_m, north_m]) => lonLat(east_m, north_m))],
})
const line = (...points: [number, number][]): Geometry => ({
  type: 'LineString',
  coordinates: points.map(([east_m, north_m]) => lonLat(east_m, north_m)),
})

function blob(probability: number, east_m: number, north_m: number, a_m: number, b_m: number, turn_deg: number): Region {
  const turn = (turn_deg * Math.PI) / 180
  const ring = Array.from({ length: 49 }, (_, i) => {
    const angle = (i / 48) * 2 * Math.PI
    const [u, v] = [a_m * Math.cos(angle) * (1 + 0.15 * Math.cos(angle)), b_m * Math.sin(angle)]
    return lonLat(east_m + u * Math.sin(turn) + v * Math.cos(turn), north_m + u * Math.cos(turn) - v * Math.sin(turn))
  })
  return { probability, area_m2: Math.PI * a_m * b_m, geometry: { type: 'MultiPolygon', coordinates: [[ring]] } }
}

const read = { standing: 'lost', found: [], error: null } satisfies Partial<FlightSummary>

export const FAKE_FLIGHTS: FlightSummary[] = [
  {
    ...read,
    id: 'apart',
    title: 'Came apart at burnout, lower half found',
    launched_at: '2031-05-11T11:40:02+02:00',
    rocket: 'Grebe',
    standing: 'partly_found',
    found: ['lower'],
  },
  { ...read, id: 'drifted', title: 'Gone behind the poplars under the chute', launched_at: '2031-05-11T10:12:30+02:00', rocket: 'Plover' },
  { ...read, id: 'bare', title: 'Only the pad, the motor and a last look', launched_at: null, rocket: 'Dotterel' },
]

const flight: Flight = {
  format: 'windfall-flight/1',
  id: 'drifted',
  title: null,
  pad: { ...PAD, accuracy_m: 4, elevation_m: 310 },
  air: null,
  wind: [],
  rocket: { id: null, name: 'Plover', stages: [] },
  launch: { at: null, rod: null },
  evidence: [],
  field: {
    id: null,
    name: 'Long Fallow',
    cover: 'high grass',
    outline: polygon([-190, -150], [330, -170], [360, 210], [150, 270], [-210, 190]),
    hazards: [
      { kind: 'road', name: 'Sedge Lane', geometry: line([-400, -215], [0, -230], [420, -205], [560, 240]) },
      { kind: 'power_line', name: null, geometry: line([-120, 420], [250, 330], [620, 250]) },
      { kind: 'trees', name: 'poplars', geometry: polygon([225, 60], [300, 75], [310, 150], [240, 160]) },
      { kind: 'water', name: 'fire pond', geometry: polygon([60, -90], [110, -100], [130, -50], [75, -35]) },
      { kind: 'private_land', name: 'orchard', geometry: polygon([370, 40], [520, 60], [510, 210], [372, 205]) },
      { kind: 'buildings', name: 'barn', geometry: polygon([-150, 60], [-105, 62], [-107, 90], [-150, 88]) },
      { kind: 'crop', name: 'barley', geometry: polygon([-210, 200], [140, 280], [90, 380], [-220, 340]) },
      { kind: 'railway', name: null, geometry: line([-420, -60], [-330, 120], [-300, 420]) },
    ],
  },
}

const AT_THE_POPLARS: Sentence = {
  say: 'stop_here',
  what: { say: 'called', what: { say: 'the_trees' }, name: 'poplars' },
  advice: { say: 'do_not_climb' },
}

function partAnswer(part: string, east_m: number, north_m: number, spread: number): PartAnswer {
  return {
    part,
    rough: null,
    stay: null,
    p_apart: part === 'rocket' ? 0 : 0.93,
    aim: at(east_m, north_m),
    approach: { ...at(east_m * 0.78, north_m * 0.74), caution: 'Stop here: the trees (poplars) lies ahead; do not climb; look up from outside first.', said: AT_THE_POPLARS },
    distance_m: 287,
    distance_from_pad_m: 287,
    bearing_true_deg: 66.4,
    bearing_magnetic_deg: 78.9,
    walk_s: 247,
    regions: [
      blob(0.5, east_m, north_m, 42 * spread, 24 * spread, 66),
      blob(0.9, east_m + 8, north_m + 4, 96 * spread, 52 * spread, 66),
    ],
    modes: ([
      { mode: 'opens', probability: 0.81, aim: at(east_m + 6, north_m + 2), regions: [blob(0.5, east_m + 6, north_m, 36 * spread, 20 * spread, 66), blob(0.9, east_m + 6, north_m, 80 * spread, 40 * spread, 66)] },
      { mode: 'opens_late', probability: 0.12, aim: at(east_m * 0.8, north_m * 0.8), regions: [blob(0.5, east_m * 0.8, north_m * 0.8, 40, 22, 66), blob(0.9, east_m * 0.8, north_m * 0.8, 85, 45, 66)] },
      { mode: 'none_opened', probability: 0.05, aim: at(40, 12), regions: [blob(0.5, 40, 12, 24, 20, 80), blob(0.9, 40, 12, 60, 44, 80)] },
      { mode: 'unmodelled', probability: 0.004, aim: at(120, 60), regions: [blob(0.5, 120, 60, 120, 90, 66), blob(0.9, 120, 60, 260, 190, 66)] },
    ] satisfies Pick<ModeAnswer, 'mode' | 'probability' | 'aim' | 'regions'>[]).map((it) => ({ ...it, approach: { ...it.aim, caution: null, said: null }, stay: null })),
    in_field: 0.88,
    hazards: [
      { kind: 'trees', name: 'poplars', probability: 0.31, held: 0.14, look_up: true },
      { kind: 'private_land', name: 'orchard', probability: 0.06, held: 0, look_up: false },
      { kind: 'power_line', name: null, probability: 0.003, held: 0, look_up: false },
    ],
    rests: {
      in_a_tree: 0.14,
      on_a_roof: 0,
      dragged: { probability: 0.2, least_m: 10, most_m: 40, toward_deg: 66 },
      text: [],
      said: [{ say: 'may_have_been_dragged', least_m: 10, most_m: 40, compass_deg: 66 }],
    },
  }
}

function fakeSaid(id: string, parts: PartAnswer[]): Said {
  const how: Sentence = { say: 'it_opened' }
  const way: Sentence = { say: 'came_down_far', distance_m: 287, compass_deg: 66.4 }
  return {
    cautions: [
      ...parts.map(({ part }): Sentence => ({ say: 'on_the_way_to', part, caution: AT_THE_POPLARS })),
      { say: 'in_a_power_line' },
      { say: 'may_hang_in_a_tree', of_ten: 1 },
      { say: 'mind_the_ground' },
    ],
    why: [
      { say: 'why', how, p_how: 0.81, apogee_m: 204, in_the_air_s: 47, way },
      { say: 'rests_on', facts: [{ say: 'sightings', count: 2 }, { say: 'wind_readings', count: 1 }] },
    ],
    would_help: { say: 'would_help', what: { say: 'wind_from' }, share: 0.62 },
    surprises: id === 'bare' ? [{ say: 'sighting_off', what: { say: 'when_last_seen' }, by: null, when: { say: 'at_time', t_s: 38 } }] : [],
    warnings: id === 'bare' ? [{ say: 'no_wind_reading' }] : [],
    beliefs: [],
  }
}

const FAKE_ROUGH: Rough = { why: { say: 'rough_at_odds' }, next: { say: 'look_again' }, by: 'tell' }

/** An invented answer. */
export function fakeAnswer(id: string, from: LatLon | null): Answer {
  const parts = id === 'apart' ? [partAnswer('upper', 240, 118, 1), partAnswer('lower', 30, 22, 0.3)] : [partAnswer('rocket', 263, 115, 1)]
  const moved = from ? parts.map((part) => ({ ...part, distance_m: 152, bearing_true_deg: 31, bearing_magnetic_deg: 43.5, walk_s: 131 })) : parts
  return {
    format: 'windfall-answer/1',
    flight: id,
    pad: PAD,
    from: from ?? PAD,
    declination_deg: -12.5,
    // No screen reads the words of the terminal.
    cautions: [],
    parts: id === 'bare' ? moved.map((part) => ({ ...part, rough: FAKE_ROUGH })) : moved,
    sight_lines: [
      { evidence: 0, from: PAD, to: at(430, 205), bearing_true_deg: 64.5, moment: 'lost' },
      { evidence: 1, from: at(60, -140), to: at(330, 240), bearing_true_deg: 35.4, moment: 'descent' },
    ],
    why: '',
    would_help: null,
    surprises: id === 'bare' ? [{ evidence: 1, p_mistaken: 0.71, text: '' }] : [],
    warnings: [],
    gone: { days: 3, probability: 0.19, search_finds_at_most: 0.73, text: '', said: { say: 'may_be_gone_from_a_public_place', of_ten: 2, count: 3 } },
    beliefs: [],
    said: fakeSaid(id, parts),
    seed: 1,
    effective_draws: 812,
    monte_carlo_error_m: 1.4,
    model_version: 'invented',
    elapsed_ms: 3,
  }
}

/** An invented density around the middle of the sheet. */
export function fakeDensity(part: string, mode: Mode | null): ArrayBuffer {
  const [width, height, cell_m] = [96, 80, 4]
  const [east_m, north_m, wide] = mode === 'none_opened' ? [40, 12, 22] : part === 'lower' ? [30, 22, 14] : [250, 112, 44]
  const [west_m, south_m] = [east_m - (width * cell_m) / 2, north_m - (height * cell_m) / 2]
  const bytes = new ArrayBuffer(16 + width * height)
  const head = new DataView(bytes)
  head.setUint16(0, width, true)
  head.setUint16(2, height, true)
  head.setFloat32(4, cell_m, true)
  head.setFloat32(8, west_m, true)
  head.setFloat32(12, south_m, true)
  const values = new Uint8Array(bytes, 16)
  for (let row = 0; row < height; row++) {
    for (let column = 0; column < width; column++) {
      const [e, n] = [(column - width / 2) * cell_m, (height / 2 - row) * cell_m]
      const [along, across] = [0.914 * e + 0.407 * n, 0.914 * n - 0.407 * e]
      values[row * width + column] = Math.round(255 * Math.exp(-0.25 * ((along / wide) ** 2 + (across / (0.55 * wide)) ** 2)))
    }
  }
  return bytes
}

/** A core that answers at once, with invented things. */
export function fakeBackend(): Backend {
  const known = (id: string) => {
    const summary = FAKE_FLIGHTS.find((it) => it.id === id)
    if (!summary) throw new Refusal('unknown_flight', `There is no flight "${id}".`)
    return summary
  }
  const told = new Map<string, Flight>()
  const tell = (it: Flight): string => {
    const id = it.id ?? `told-${String(told.size + 1)}`
    told.set(id, { ...it, id })
    return id
  }
  const shown = (id: string): Flight => told.get(id) ?? { ...flight, id, title: known(id).title }
  const answered = (id: string, from: LatLon | null): Answer => ({
    ...fakeAnswer(told.has(id) ? 'bare' : known(id).id, from),
    flight: id,
  })
  return {
    ...fakeCalm(),
    listFlights: () => Promise.resolve(FAKE_FLIGHTS),
    showFlight: async (id) => Promise.resolve(shown(id)),
    locateFlight: async (id, from) => Promise.resolve(answered(id, from)),
    tellFlight: async (it) => Promise.resolve(tell(it)),
    takeBackFlight: async (id) => {
      told.delete(id)
      return Promise.resolve()
    },
    answerFlight: async (it, from) => Promise.resolve(answered(tell(it), from)),
    addEvidence: async (id, evidence, from) => {
      tell({ ...shown(id), evidence: [...shown(id).evidence, ...evidence] })
      return Promise.resolve(answered(id, from))
    },
    appendTrack: async ({ id, track, samples, north, from }) => {
      const it = shown(id)
      const tracks = it.evidence.filter((piece) => piece.kind === 'track')
      const old = tracks[track]
      if (old) old.samples.push(...samples)
      else it.evidence.push({ kind: 'track', samples, north, from, set_aside: false })
      tell(it)
      return Promise.resolve()
    },
    watchFall: async () => Promise.resolve({ p_unopened: 0.05, heads_up: false }),
    roughAnswer: async (id, from) => Promise.resolve(told.has(id) ? answered(id, from) : null),
    noteFind: async ({ id, part, at, accuracy_m, condition }) => {
      const find = { kind: 'find', part, at, accuracy_m, condition, set_aside: false } as const
      tell({ ...shown(id), evidence: [...shown(id).evidence, find] })
      return Promise.resolve(shown(id))
    },
    expectedOpening: async () => Promise.resolve({ expected_s: 7, latest_s: 9, down_unopened_s: 14 }),
    leadTo: async (at) =>
      Promise.resolve({
        flight: { format: 'windfall-flight/1', pad: at, wind: [], rocket: { stages: [{ splits_into: [] }] }, launch: {}, evidence: [] },
        approach: { ...at, caution: null, said: null }, cautions: [{ say: 'mind_the_ground' }], declination_deg: -12.5,
      }),
    walkTo: async (_id, _from, _accuracy_m, to) =>
      Promise.resolve({
        approach: { ...to, caution: null, said: null }, short_m: 0,
        distance_m: 287, walk_s: 240, bearing_true_deg: 66.4, bearing_magnetic_deg: 78.9, declination_deg: -12.5, doubt_deg: 10.2, stop: [], any_marked: true, home_m: 240,
      }),
    position: async () => Promise.reject(new Refusal('not_found', 'No gpsd answers.')),
    lightLeft: async () => Promise.resolve({ sun_is_up: true, is_dark: false, sunset_in_s: 2520, dark_in_s: 4500 }),
    closeFlight: () => Promise.resolve(),
    keepPhoto: async () => Promise.reject(new Refusal('not_found', 'No logbook is open.')),
    checkAltimeter: async (_id, apogee_m) => {
      const slip = apogee_m > 600 ? 'tenfold' : null
      return Promise.resolve({ low_m: 150, high_m: 260, slip, meant_m: slip && apogee_m / 10 })
    },
    landingDensity: (_id, part, mode) => Promise.resolve(fakeDensity(part, mode)),
  }
}
