import { Refusal, type Backend, type Opening } from '../../lib/backend'
import type { Answer, Evidence, Flight, LatLon, Moment, Pad, Part, Rocket, SawMode, Sure, TimedBy } from '../../lib/backend/generated'
import type { Device } from '../../lib/device'
import { meanAim, type Aim } from '../../lib/device/compass'
import { BLOCK_S, heardAfter_s, Ignition } from '../../lib/device/microphone'
import type { Axis } from '../../lib/device/orientation'
import { apart_m, watchSpot } from '../../lib/device/place'
import type { Fix } from '../../lib/device/position'
import { say } from '../../lib/words'
import { hasWay, markedAt, NO_LOOK, sightingOf, type Look } from '../../parts/aim/look'
import { feltWind, type Strength, type Toward } from '../../parts/wind/feel'
import type { Handed } from '../recover/recovery.svelte'
import { atHand, type Ready } from './rockets'

/** Where a flight is between the pad and the answer. */
export type Phase = 'ready' | 'flying' | 'asked' | 'pointing' | 'unlit'

/** How it left the eye. */
export type Gone = 'landed' | 'behind' | 'far'

/** What the flyer says when asked whether it is out. */
export type Said = 'yes' | 'no' | 'unseen'

/** Why it is called out: seen to fall; told so; nobody said anything; nobody can see it. */
export type Call = 'falls' | 'no' | 'silence' | 'unseen'

/** How it came down: in one piece, or in parts, of which the lighter or the heavier was followed. */
export type Came = 'one' | 'light' | 'heavy'

/** Where the pad is: as an earlier flight or the site has it, where the flyer stands, or somewhere near. */
export type PadPlace = 'known' | 'here' | 'near'

/** Holding again within this is the same track, s. */
const SAME_TRACK_S = 3
/** A touch shorter than this is a tap, s. */
const TAP_S = 0.6
/** Samples are taken this often, and sent on this often, s. */
const SAMPLE_S = 0.2
const SEND_S = 1
/** The countdown begins at so many. */
const COUNT_S = 5
/** So long after it was last seen a direction is still in the eye, s. Judgement. */
export const FEET_S = 60
/** Wait after a launch that did not light, s: safety code of the National Association of Rocketry, Misfires. */
export const WAIT_S = 60
/** So long after 19 of 20 have opened an answer is waited for, s, before it is called out: eyes come down from the sky. */
const ANSWER_S = 3
/** Shorter if so little time, s, would be left until it must be down, but never shorter than the last. */
const WARNING_S = 3
const GRACE_S = 1
/** The call is repeated as often as this, s, until this long after it must be down. */
const CALL_S = 2.5
const CALL_AFTER_DOWN_S = 5
/** Lower than this it is not the sky that is pointed at. */
const LOWEST_DEG = -30
/** Walking, m/s, and how long between two reminders, s. */
const WALKING_MPS = 0.8
const REMIND_S = 4
/** A flight older than this is not gone on with, s. */
const OLDEST_S = 900
const OTHER_FIELD_M = 3000
/** Around a pad that is somewhere near, m: a long way to walk with a launch controller. Judgement. */
const NEAR_M = 100

/** What is kept of a flight in the air, so that a killed program goes on with it. */
interface Kept {
  launchedAt: string
  /** When it was last written down. */
  at: string
  timedBy: TimedBy
  flight: Flight
  track: number
  opening: Opening | null
  chute_s: number | null
  said: Said | null
  /** What was seen besides the tracks, and whether the question where it went is answered. */
  pieces?: Evidence[]
  gone?: boolean
  /** When and how it was last seen, and which of the pieces says so. */
  last?: LastSeen
  went?: number
}

/** How it was last seen; when is null if nobody knows. */
interface LastSeen {
  t_s: number | null
  moment: Extract<Moment, 'lost' | 'landed'>
}

/** Where it is kept. */
export interface Keep {
  read(): string | null
  write(text: string | null): void
}

/** From the countdown to the question where it went. */
export class Fly {
  phase = $state<Phase>('ready')
  t_s = $state(0)
  seeing = $state(false)
  /** When it was reported to open. */
  chute_s = $state<number | null>(null)
  /** What was said when it was asked for. */
  said = $state<Said | null>(null)
  /** Whether it is asked if it is out. */
  asking = $state(false)
  call = $state<Call | null>(null)
  /** What the flyer says that it did. */
  did = $state<SawMode | null>(null)
  /** How sure of that. */
  sure = $state<Sure>('think')
  /** In how many pieces it came down. */
  came = $state<Came | null>(null)
  toward = $state<Toward | null>(null)
  strength = $state<Strength | null>(null)
  padPlace = $state<PadPlace>('known')
  walking = $state(false)
  /** Seconds that the program was away from a flight in the air. */
  away_s = $state<number | null>(null)
  rockets = $state.raw<Ready[]>([])
  rocket = $state.raw<Ready | null>(null)
  letter = $state<string | null>(null)
  opening = $state.raw<Opening | null>(null)
  listening = $state(false)
  listenTrouble = $state(false)
  hasCompass = $state(false)
  samples = $state(0)
  look = $state.raw<Look>(NO_LOOK)
  /** What marks the line on the skyline. */
  skyline = $state.raw<Look>(NO_LOOK)
  /** What the countdown has come to; null while nobody counts. */
  count_s = $state<number | null>(null)
  /** Whether it was last seen so lately that the direction is still in the eye. */
  feetStill = $state(true)
  wait_s = $state(WAIT_S)
  answering = $state(false)
  trouble = $state.raw<string | null>(null)
  here = $state.raw<Fix | null>(null)

  /** Whether somebody said that it is open. */
  readonly out: boolean = $derived(this.chute_s !== null || this.said === 'yes')
  readonly headsUp: boolean = $derived(this.call !== null)
  /** Whose pad, field and wind count for another rocket: those of the one of today's that was chosen before. */
  #before = $state.raw<Ready | null>(null)
  readonly #standing: Ready | null = $derived(this.rocket ?? this.#before)
  /** Whether that is as today has it, not as an earlier flight had it. */
  readonly isOfToday: boolean = $derived(this.#standing?.id !== undefined)
  /** What is known of field and wind: from the day, or an earlier flight if that was on this field. */
  readonly #ground: Flight | null = $derived.by(() => {
    const { here } = this
    const of = this.#standing
    return of && !(of.hasPad && here && apart_m(of.flight.pad, here) > OTHER_FIELD_M) ? of.flight : null
  })
  /** The same, if the pad is known too. */
  readonly #known: Flight | null = $derived(this.#standing?.hasPad ? this.#ground : null)
  /** Where the pad is and how that is known; null while nobody knows. */
  readonly pad: (Pad & { place: PadPlace; away_m: number }) | null = $derived.by(() => {
    const { here } = this
    if (this.#known && this.padPlace === 'known') {
      return { ...this.#known.pad, place: 'known', away_m: here ? apart_m(this.#known.pad, here) : 0 }
    }
    if (!here) return null
    const place = this.padPlace === 'near' ? 'near' : 'here'
    const least_m = place === 'near' ? NEAR_M : 5
    return { lat: here.lat, lon: here.lon, accuracy_m: Math.min(1000, Math.max(least_m, here.accuracy_m)), place, away_m: 0 }
  })
  readonly hasKnownPad: boolean = $derived.by(() => this.#known !== null)
  /** Whether nobody has told the wind of this flight. */
  readonly windless: boolean = $derived.by(() => !this.flown || this.flown.wind.length === 0)
  /** The flight as it went up. */
  flown = $state.raw<Flight | null>(null)

  readonly #backend: Backend
  #wanted: string | null
  readonly #of: Device
  readonly #keep: Keep
  #start_ms = 0
  #launchedAt: string | null = null
  #timedBy: TimedBy = 'tap'
  /** Seen to fall, as the core judges the track. */
  #falls = false
  #asked = false
  #track = -1
  #lifted_s = -Infinity
  #pressed_s = 0
  #unsent: [number, number, number][] = []
  #sampled_s = -Infinity
  #sent_s = 0
  #last: Aim | null = null
  #aims: Aim[] = []
  #pieces: Evidence[] = []
  #sending: Promise<unknown> = Promise.resolve()
  #ends: (() => void)[] = []
  #deafen: (() => void) | null = null
  #beeped = false
  #zero_ms: number | null = null
  /** A finger waits on the screen for zero. */
  #waits = false
  #lastSeen: LastSeen | null = null
  #feetFrom_s = 0
  #lookFrom: LatLon | null = null
  #called_s = -Infinity
  #reminded_s = -Infinity
  #watching = false
  #unlit_ms = 0
  /** The flight that the core was told of. */
  #begun: string | null = null
  /** Counts what was taken back: what is still on its way of it is not begun anew. */
  #over = 0
  /** When the felt wind was told. */
  #feltAt: string | null = null
  /** What the question where it went added to the pieces. */
  #went: Evidence | null = null

  /** `wanted` is the rocket of the fleet that is taken to the pad. */
  constructor(backend: Backend, device: Device, keep: Keep, wanted: string | null = null) {
    this.#wanted = wanted
    this.#backend = backend
    this.#of = device
    this.#keep = keep
  }

  /** Whether a flight in the air was kept by a program that ended. */
  static wasFlying(keep: Keep, clock: Device['clock']): boolean {
    const kept = readKept(keep)
    const age_s = kept ? (Date.parse(clock.wall()) - Date.parse(kept.launchedAt)) / 1000 : Infinity
    return age_s >= 0 && age_s < OLDEST_S
  }

  /** Begins to watch place and time. Returns what ends it. */
  begin(axis: Axis): () => void {
    this.#ends.push(
      watchSpot(this.#of.receiver, (spot, taken) => {
        this.#mindWalking(taken)
        this.here = spot
      }),
      this.#of.compass.watch(axis, (aim) => {
        this.hasCompass = true
        this.#aim(aim)
      }),
    )
    const timer = setInterval(() => {
      this.tick()
    }, 100)
    this.#ends.push(() => {
      clearInterval(timer)
    })
    if (!this.#resume()) void this.#readRockets()
    return () => {
      for (const end of this.#ends) end()
      this.#ends = []
      this.#deafen?.()
      this.#stopCount()
      this.#of.wakeLock.release()
    }
  }

  async #readRockets(): Promise<void> {
    try {
      const { own: ready, flown, all } = await atHand(this.#backend)
      this.rockets = all
      // Which of several own rockets nobody has flown yet stands on the pad, only the flyer knows.
      const own = ready.length > 1 ? null : this.rockets[0]
      const latest = ready.find((it) => it.id === this.#wanted) ?? ready.find(({ name }) => name === flown[0]?.name)
      if (this.rocket || this.letter !== null) return
      if (this.phase === 'ready') this.choose(latest ?? own ?? null)
      else if ((this.phase === 'flying' || this.phase === 'asked') && this.#wanted !== null && latest && this.flown && !this.flown.id) {
        // It went up before the fleet was read: nothing was told yet, and it is known which one flies.
        this.choose(latest)
        this.flown = this.#told()
        this.#write()
      }
    } catch {
      // Any rocket can fly with the letter of its motor alone.
    }
  }

  /** What it is called: by its name, or by what is known of it. */
  get name(): string {
    return this.rocket?.name ?? (this.letter ? say('fly.motor', { letter: this.letter }) : say('fly.some'))
  }

  /** Which rocket; null for another, of which only the motor's letter is known. */
  choose(rocket: Ready | null, letter: string | null = null): void {
    if (this.rocket?.id !== undefined) this.#before = this.rocket
    this.rocket = rocket
    this.letter = rocket ? null : letter
    void this.#expect()
  }

  async #expect(): Promise<void> {
    this.opening = null
    try {
      this.opening = await this.#backend.expectedOpening(this.#told())
    } catch {
      // Without it nothing is called out; the flight can be followed all the same.
    }
  }

  /** The flight as far as it is known before it flies. */
  #told(): Flight {
    const ground = this.#ground
    const { pad } = this
    return {
      format: 'windfall-flight/1',
      id: null,
      title: say('fly.flight_title', { rocket: this.name, time: (this.#launchedAt ?? this.#of.clock.wall()).slice(11, 16) }),
      pad: pad ? padOf(pad) : NOWHERE,
      field: ground?.field ?? null,
      air: ground?.air ?? null,
      wind: ground?.wind ?? [],
      rocket: this.rocket?.flight.rocket ?? { stages: [{ motor: this.letter, splits_into: [] }] },
      launch: { at: this.#launchedAt, timed_by: this.#timedBy, rod: this.rocket ? (ground?.launch.rod ?? null) : null },
      evidence: [],
    }
  }

  /** Whether the ignition is listened for. */
  async listen(): Promise<void> {
    this.listenTrouble = false
    if (this.#deafen) {
      this.#deafen()
      this.#deafen = null
      this.listening = false
      if (this.#zero_ms === null) this.#of.wakeLock.release()
      return
    }
    const ignition = new Ignition()
    try {
      this.#deafen = await this.#of.microphone.listen((level_db) => {
        if (ignition.hears(level_db) && this.phase === 'ready') this.launch('sound', heardAfter_s(BLOCK_S))
      })
      this.listening = true
      // A dark screen is deaf, and the wait for the ignition may be long.
      void this.#of.wakeLock.hold()
    } catch {
      this.listenTrouble = true
    }
  }

  /** Counts down to zero, which is when it goes up; or stops counting. */
  countDown(): void {
    const { clock, tone, wakeLock } = this.#of
    if (this.#zero_ms !== null) {
      this.#stopCount()
      if (!this.listening) wakeLock.release()
      return
    }
    this.#zero_ms = clock.now_ms() + COUNT_S * 1000
    tone.ready()
    void wakeLock.hold()
    this.#count()
  }

  #stopCount(): void {
    this.#zero_ms = this.count_s = null
    this.#waits = false
  }

  #count(): void {
    const { clock, tone, vibration } = this.#of
    if (this.#zero_ms === null) return
    const left_s = (this.#zero_ms - clock.now_ms()) / 1000
    if (left_s <= 0) {
      const waits = this.#waits
      this.launch('countdown', -left_s)
      if (waits) this.press()
      return
    }
    const count_s = Math.ceil(left_s)
    if (count_s === this.count_s) return
    this.count_s = count_s
    tone.sound('count')
    vibration.buzz('count')
  }

  launch(by: TimedBy, ago_s = 0): void {
    this.#stopCount()
    const { clock, tone, wakeLock, vibration } = this.#of
    this.#start_ms = clock.now_ms() - ago_s * 1000
    this.#launchedAt = clock.wall(ago_s)
    this.#timedBy = by
    this.#deafen?.()
    this.#deafen = null
    this.listening = false
    this.phase = 'flying'
    tone.ready()
    vibration.buzz(by === 'countdown' ? 'zero' : 'taken')
    if (by === 'countdown') tone.sound('zero')
    void wakeLock.hold()
    this.flown = this.#told()
    this.#write()
    this.tick()
  }

  /** It went up some seconds before the tap; only as long as nothing was followed. */
  wentUp(ago_s: number): void {
    if (this.samples > 0) return
    this.launch('recalled', ago_s)
  }

  /** The finger is down: I see it. */
  press(): void {
    if (this.#zero_ms !== null) {
      this.#waits = true
      return
    }
    if (this.phase === 'ready') this.launch('tap')
    if (this.phase !== 'flying' && this.phase !== 'asked') return
    const t_s = this.#now_s()
    this.phase = 'flying'
    this.away_s = null
    this.#pressed_s = t_s
    if (this.#track < 0 || t_s - this.#lifted_s > SAME_TRACK_S) this.#track++
    this.seeing = true
    this.#aims = this.#last && this.#last.elevation_deg >= LOWEST_DEG ? [this.#last] : []
  }

  /** The finger is off: I don't. */
  lift(): void {
    this.#waits = false
    if (!this.seeing) return
    this.seeing = false
    this.#lifted_s = this.#now_s()
    this.#send()
    // A tap was the launch, or a slip.
    if (this.#lifted_s - this.#pressed_s < TAP_S && this.samples < 3) return
    this.phase = 'asked'
  }

  /** A second finger, or the button. */
  chuteOut(): void {
    if (this.out || (this.phase !== 'flying' && this.phase !== 'asked')) return
    // Asked for, it opened some time ago; when, nobody knows.
    if (this.asking) {
      this.isOut('yes')
      return
    }
    this.chute_s = this.#now_s()
    this.call = null
    this.#of.vibration.buzz('taken')
    const aim = this.seeing ? this.#aims.at(-1) : undefined
    const seen = sightingOf({ ...NO_LOOK, pointed: aim ? pointedOf(aim) : null }, 'deployment', this.#from(), this.chute_s)
    if (seen) this.#pieces.push(seen)
    this.#write()
  }

  /** The answer to the question whether it is out. */
  isOut(said: Said): void {
    if (this.out || (this.phase !== 'flying' && this.phase !== 'asked')) return
    this.said = said
    this.#of.vibration.buzz('taken')
    this.tick()
    this.#write()
  }

  takeWind(toward: Toward | null, strength: Strength | null): void {
    this.toward = toward
    this.strength = strength
  }

  /** The one other place that the pad may be at. */
  movePad(): void {
    this.padPlace = this.pad?.place === 'here' && !this.#known ? 'near' : this.pad?.place === 'known' || this.pad?.place === 'near' ? 'here' : 'known'
    void this.#expect()
  }

  /** The one question after lifting. */
  gone(how: Gone): void {
    const last = meanAim(this.#aims.slice(-5))
    const pointed = last && { bearing_deg: last.bearing_deg, elevation_deg: last.elevation_deg }
    // Whoever was away and has not held since knows what became of it, and not when.
    const t_s = Number.isFinite(this.#lifted_s) ? this.#lifted_s : this.away_s === null ? this.#now_s() : null
    this.#lastSeen = { t_s, moment: how === 'landed' ? 'landed' : 'lost' }
    this.#feetFrom_s = t_s ?? this.#now_s()
    this.#went = sightingOf({ ...NO_LOOK, pointed }, this.#lastSeen.moment, this.#from(), t_s)
    if (this.#went) this.#pieces.push(this.#went)
    this.call = null
    this.asking = false
    this.phase = 'pointing'
    this.tick()
    this.#write()
  }

  /** Back to the question where it went. */
  askAgain(): void {
    if (this.phase !== 'pointing') return
    this.#pieces = this.#pieces.filter((it) => it !== this.#went)
    this.#went = this.#lastSeen = null
    this.trouble = null
    this.phase = 'asked'
    this.#write()
  }

  /** In one piece, or in parts, which says what it did as well. */
  cameDown(how: Came): void {
    const isApart = this.did === 'came_apart' || this.did === 'cord_broke'
    this.came = how
    if (how === 'one') this.did = isApart ? null : this.did
    else if (!isApart) this.did = 'came_apart'
  }

  /** It stands on the pad: no false flight is kept. */
  didNotLight(): void {
    this.#takeBack()
    this.#unlit_ms = this.#of.clock.now_ms()
    this.wait_s = WAIT_S
    this.phase = 'unlit'
  }

  /** This rocket of the fleet flies next: after a misfire it may be another one. */
  wants(rocket: string): void {
    this.#wanted = rocket
    this.rocket = this.letter = null
  }

  /** A slip of the finger: nobody pressed the button of the launch controller. */
  wasNothing(): void {
    this.#takeBack()
    this.again()
  }

  /** What the core was told of a flight that was none is taken back, once it has arrived there. */
  #takeBack(): void {
    this.#keep.write(null)
    this.seeing = this.asking = this.#falls = false
    this.call = null
    this.#over++
    this.#unsent = []
    this.#sending = this.#sending.then(async () => {
      const id = this.#begun
      this.#begun = null
      try {
        if (id) await this.#backend.takeBackFlight(id)
      } catch (thrown) {
        this.trouble = Refusal.from(thrown).message
      }
    })
  }

  /** Back on the pad, with everything of the flight that was none forgotten. */
  again(): void {
    this.#launchedAt = null
    this.flown = null
    this.#track = -1
    this.#lifted_s = this.#called_s = this.#sampled_s = -Infinity
    this.#pieces = []
    this.#unsent = []
    this.#aims = []
    this.#beeped = this.#asked = false
    this.chute_s = this.said = this.did = this.came = this.away_s = this.#went = this.#feltAt = this.#lastSeen = null
    this.look = this.skyline = NO_LOOK
    this.sure = 'think'
    this.samples = this.t_s = 0
    this.phase = 'ready'
    this.#of.wakeLock.release()
    if (this.rocket || this.letter !== null) void this.#expect()
    else void this.#readRockets()
  }

  /** Pointed once more at where it was last seen, or shown without a compass. */
  takeLook(look: Look): void {
    this.look = look
    this.#lookFrom = this.#from()
  }

  /** What it was in line with, on the map: beside a direction that was pointed, or in place of one. */
  takeMark(at: LatLon): void {
    if (this.look.pointed) this.skyline = markedAt(NO_LOOK, at)
    else this.takeLook(markedAt(this.look, at))
  }

  /** Whether nothing is lost by going: no flight is in the air, and none waits to be handed over. */
  get mayLeave(): boolean {
    return this.phase === 'ready' || this.phase === 'unlit' || (this.phase === 'pointing' && this.trouble !== null)
  }

  /** Whether everything was said that is asked after a flight. */
  get isTold(): boolean {
    return this.look.pointed !== null && !this.windless && (this.out || this.did !== null)
  }

  /** Whether a flight that was begun may have left facts behind: then it cannot be taken back with one tap. */
  get followed(): boolean {
    return this.samples > 0
  }

  /**
   * Everything seen is handed over, and what is known at once comes back: on a long track the answer itself takes its
   * time. Null, with the trouble said, if the core could not be told.
   */
  async handOver(): Promise<Handed | null> {
    this.trouble = null
    this.answering = true
    this.#send()
    try {
      await this.#sending
      const id = await this.#id()
      const part = await this.#tellMore(id)
      const { here } = this
      const pieces = [...[...this.#pieces, ...this.#shown()].map((piece) => ofPart(piece, part)), ...this.#saw()]
      let isTold = false
      const answer = async (): Promise<Answer> => {
        if (isTold) return this.#backend.locateFlight(id, here)
        // From here on it is over for this screen, however long the answer takes.
        this.#keep.write(null)
        try {
          const got = await this.#backend.addEvidence(id, pieces, here)
          isTold = true
          return got
        } catch (thrown) {
          this.#write()
          throw thrown
        }
      }
      const rough = await this.#roughly(id)
      return { id, flight: await this.#backend.showFlight(id), rough, answer }
    } catch (thrown) {
      this.trouble = Refusal.from(thrown).message
      return null
    } finally {
      this.answering = false
    }
  }

  /** What was shown afterwards, with feet still: of the moment it was last seen. */
  #shown(): Evidence[] {
    const { t_s, moment } = this.#lastSeen ?? { t_s: null, moment: 'lost' }
    const shown = [this.look, this.skyline].filter((it) => hasWay(it) || it.fists !== null)
    return shown.flatMap((it) => sightingOf(it, moment, this.#lookFrom ?? this.#from(), t_s) ?? [])
  }

  /** The word for what it did: what was chosen, else what was said on the way. */
  #saw(): Evidence[] {
    const saw = (mode: SawMode, sure: Sure): Evidence[] => [{ kind: 'saw', mode, sure, set_aside: false }]
    if (this.did) return saw(this.did, this.sure)
    if (this.out) return saw('opened', 'sure')
    return this.said === 'no' ? saw('none_opened', 'think') : []
  }

  /** Tells the wind and the parts of the flight, if they were said; the part that was followed, if it was not the usual one. */
  async #tellMore(id: string): Promise<string | null> {
    const felt = feltWind(this.toward, this.strength, this.#of.clock.wall())
    const isApart = this.came === 'light' || this.came === 'heavy'
    if (!felt && !isApart) return null
    const flight = await this.#backend.showFlight(id)
    const rocket = isApart ? inParts(flight.rocket) : flight.rocket
    const parts = rocket.stages.at(-1)?.splits_into ?? []
    // The eye follows what hangs on the recovery device, unless somebody says otherwise.
    const part = this.came === 'heavy' ? (parts.find((it) => !it.carries_recovery)?.name ?? null) : null
    // Said once more, it replaces what was said.
    const wind = felt ? [...flight.wind.filter((it) => it.at !== this.#feltAt || it.method !== 'feel'), felt] : flight.wind
    this.#feltAt = felt?.at ?? null
    const evidence = flight.evidence.map((piece) => (isApart && piece.kind === 'track' ? { ...piece, part } : piece))
    // A rod that leans into the wind leans the way that is known now.
    const { rod } = flight.launch
    const isOpen = rod?.tilt_deg != null && rod.toward_deg == null && felt?.from_deg != null
    const launch = isOpen ? { ...flight.launch, rod: { ...rod, toward_deg: felt.from_deg ?? null, north: felt.north } } : flight.launch
    await this.#backend.tellFlight({ ...flight, rocket, wind, launch, evidence })
    return part
  }

  async #roughly(id: string): Promise<Answer | null> {
    try {
      return await this.#backend.roughAnswer(id, this.here)
    } catch {
      return null
    }
  }

  /** What the time brings: to be called ten times a second. */
  tick(): void {
    if (this.phase === 'unlit') {
      this.wait_s = Math.max(0, Math.ceil(WAIT_S - (this.#of.clock.now_ms() - this.#unlit_ms) / 1000))
      return
    }
    if (this.phase === 'ready') this.#count()
    if (this.phase === 'pointing') this.feetStill = this.#now_s() - this.#feetFrom_s < FEET_S
    if (this.phase !== 'flying' && this.phase !== 'asked') return
    const t_s = this.#now_s()
    this.t_s = t_s
    if (this.seeing) this.#sample(t_s)
    if (t_s - this.#sent_s >= SEND_S) {
      this.#send()
      this.#write()
    }
    const { opening } = this
    if (!opening) return
    if (!this.#beeped && t_s >= opening.expected_s) {
      this.#beeped = true
      this.#of.tone.sound('opening')
      this.#of.vibration.buzz('opening')
    }
    const may = mayFall(opening, t_s)
    if (!may) this.#falls = false
    const call_s = callFrom_s(opening)
    this.asking = may && !this.out && !this.#falls && this.said === null && t_s >= opening.expected_s && t_s < call_s
    if (this.asking && !this.#asked && t_s >= opening.latest_s) {
      this.#asked = true
      this.#of.tone.sound('asked')
      this.#of.vibration.buzz('asked')
    }
    // What nobody answered stays in words when it must be down; it is heard no more.
    const still = this.call === 'silence' && this.said === null ? this.call : null
    this.call = this.out ? null : may ? this.#calls(t_s, opening, call_s) : still
    if (!may || !this.call || t_s - this.#called_s < CALL_S) return
    // Nobody sees it: one call to look up, and the words stay.
    if (this.call === 'unseen' && this.#called_s > 0) return
    this.#called_s = t_s
    this.#of.tone.sound('heads_up')
    this.#of.vibration.buzz('heads_up')
  }

  #calls(t_s: number, opening: Opening, call_s: number): Call | null {
    if (this.#falls) return 'falls'
    if (this.said === 'no') return 'no'
    if (this.said === 'unseen') return t_s > opening.latest_s ? 'unseen' : null
    return t_s > call_s ? 'silence' : null
  }

  #now_s(): number {
    return Math.max(0, (this.#of.clock.now_ms() - this.#start_ms) / 1000)
  }

  #from(): LatLon | null {
    return this.here && { lat: this.here.lat, lon: this.here.lon }
  }

  #aim(aim: Aim): void {
    this.#last = aim
    if (!this.seeing || aim.elevation_deg < LOWEST_DEG) return
    this.#aims.push(aim)
    if (this.#aims.length > 60) this.#aims.shift()
  }

  /** A sensor speaks when something changes: until then the phone points where it pointed. */
  #sample(t_s: number): void {
    const aim = this.#last
    if (!aim || aim.bearing_deg === null || aim.elevation_deg < LOWEST_DEG || t_s - this.#sampled_s < SAMPLE_S - 0.01) return
    this.#sampled_s = t_s
    this.#unsent.push([Math.round(t_s * 1000) / 1000, aim.bearing_deg, aim.elevation_deg])
    this.samples++
  }

  #send(): void {
    this.#sent_s = this.#now_s()
    if (this.#unsent.length === 0) return
    const samples = this.#unsent
    this.#unsent = []
    const track = this.#track
    const over = this.#over
    this.#sending = this.#sending.then(async () => {
      if (over !== this.#over) return
      try {
        await this.#backend.appendTrack({ id: await this.#id(), track, samples, north: 'magnetic', from: this.#from() })
        this.trouble = null
        void this.#watchFall()
      } catch (thrown) {
        if (over !== this.#over) return
        // Kept for the next try: the core leaves out what it has already.
        this.#unsent = [...samples, ...this.#unsent]
        this.trouble = Refusal.from(thrown).message
      }
    })
  }

  /** The cloud of the core goes along, and says whether what is followed falls with nothing open; never twice at once. */
  async #watchFall(): Promise<void> {
    const { opening } = this
    if (this.#watching || (opening && this.#now_s() < opening.expected_s / 2)) return
    this.#watching = true
    try {
      const { heads_up } = await this.#backend.watchFall(await this.#id())
      this.#falls = heads_up && (this.phase === 'flying' || this.phase === 'asked')
      this.tick()
    } catch {
      // The call at the time when it should be open does not need it.
    } finally {
      this.#watching = false
    }
  }

  async #id(): Promise<string> {
    let flight = this.flown ?? this.#told()
    // The receiver may have needed longer than the countdown.
    if (!flight.id && this.pad && isNowhere(flight.pad)) flight = { ...flight, pad: padOf(this.pad) }
    if (isNowhere(flight.pad)) throw new Refusal('no_place', say('position.timeout'))
    if (flight.id) return flight.id
    const over = this.#over
    const id = await this.#backend.tellFlight(flight)
    this.#begun = id
    if (over === this.#over) {
      this.flown = { ...flight, id }
      this.#write()
    }
    return id
  }

  #mindWalking(fix: Fix): void {
    this.walking = this.seeing && (fix.speed_mps ?? 0) > WALKING_MPS
    if (!this.walking || this.#now_s() - this.#reminded_s < REMIND_S) return
    this.#reminded_s = this.#now_s()
    this.#of.vibration.buzz('still')
    this.#of.tone.sound('still')
  }

  #write(): void {
    if (!this.flown || !this.#launchedAt) return
    const kept: Kept = {
      launchedAt: this.#launchedAt,
      at: this.#of.clock.wall(),
      timedBy: this.#timedBy,
      flight: this.flown,
      track: this.#track,
      opening: this.opening,
      chute_s: this.chute_s,
      said: this.said,
      pieces: this.#pieces,
      gone: this.phase === 'pointing',
      ...(this.#lastSeen && { last: this.#lastSeen }),
      ...(this.#went && { went: this.#pieces.indexOf(this.#went) }),
    }
    this.#keep.write(JSON.stringify(kept))
  }

  /** Goes on with a flight that was in the air when the program ended. */
  #resume(): boolean {
    const kept = readKept(this.#keep)
    if (!kept || !Fly.wasFlying(this.#keep, this.#of.clock)) return false
    const age_s = (Date.parse(this.#of.clock.wall()) - Date.parse(kept.launchedAt)) / 1000
    this.#start_ms = this.#of.clock.now_ms() - age_s * 1000
    this.#launchedAt = kept.launchedAt
    this.#timedBy = kept.timedBy
    this.flown = kept.flight
    this.#begun = kept.flight.id ?? null
    this.#pieces = kept.pieces ?? []
    this.#track = kept.track
    this.#lastSeen = kept.last ?? null
    this.#feetFrom_s = kept.last?.t_s ?? this.#now_s()
    this.#went = this.#pieces[kept.went ?? -1] ?? null
    this.opening = kept.opening
    this.chute_s = kept.chute_s
    this.said = kept.said ?? null
    // What is past is not called out again.
    this.#beeped = this.#asked = true
    this.away_s = Math.round((Date.parse(this.#of.clock.wall()) - Date.parse(kept.at)) / 1000)
    // It may be down by now: that can be said, and it can be followed on.
    this.phase = kept.gone ? 'pointing' : 'asked'
    this.tick()
    return true
  }

  /** The page was out of sight, say for a call. */
  wasAway(seconds: number): void {
    if (this.phase !== 'flying' && this.phase !== 'asked') return
    this.lift()
    this.phase = 'asked'
    this.away_s = Math.round(seconds)
  }
}

/** Whether a fall with nothing open is possible: from the way up, with time to spare, until it must be down. */
const mayFall = (opening: Opening, t_s: number): boolean =>
  t_s > opening.expected_s / 2 && t_s < opening.down_unopened_s + CALL_AFTER_DOWN_S

/** From here on silence is called out, s after first motion. */
const callFrom_s = ({ latest_s, down_unopened_s }: Opening): number =>
  latest_s + Math.max(GRACE_S, Math.min(ANSWER_S, down_unopened_s - WARNING_S - latest_s))

const padOf = ({ lat, lon, accuracy_m, elevation_m }: Pad): Pad => ({ lat, lon, accuracy_m: accuracy_m ?? null, elevation_m: elevation_m ?? null })

/** No pad yet: good enough for the times of a flight, with the widest doubt that the core takes, and never told. */
const NOWHERE: Pad = { lat: 0, lon: 0, accuracy_m: 1000, elevation_m: null }
const isNowhere = ({ lat, lon }: Pad): boolean => lat === NOWHERE.lat && lon === NOWHERE.lon

/** What a rocket comes apart into whose parts were never declared: as a find of part of it calls them. */
const HALVES: Part[] = [
  { name: 'nose', carries_recovery: true, carries_motor: false },
  { name: 'fin can', carries_recovery: false, carries_motor: true },
]

/** The rocket with its parts declared. */
function inParts(rocket: Rocket): Rocket {
  const last = rocket.stages.length - 1
  return { ...rocket, stages: rocket.stages.map((stage, at) => (at === last && stage.splits_into.length === 0 ? { ...stage, splits_into: HALVES } : stage)) }
}

/** A direction as one of this part, if somebody said which. */
function ofPart(piece: Evidence, part: string | null): Evidence {
  // When it opened, it was one.
  return part === null || piece.kind !== 'sighting' || piece.moment === 'deployment' ? piece : { ...piece, part }
}

const pointedOf = (aim: Aim) => ({ bearing_deg: aim.bearing_deg, elevation_deg: aim.elevation_deg })

function readKept(keep: Keep): Kept | null {
  try {
    const kept: unknown = JSON.parse(keep.read() ?? 'null')
    const isKept = typeof kept === 'object' && kept !== null && 'launchedAt' in kept && 'flight' in kept
    return isKept ? (kept as Kept) : null
  } catch {
    return null
  }
}

/** Kept on this device. */
export const deviceKeep: Keep = {
  read: () => {
    try {
      return localStorage.getItem('windfall.flying')
    } catch {
      return null
    }
  },
  write: (text) => {
    try {
      if (text === null) localStorage.removeItem('windfall.flying')
      else localStorage.setItem('windfall.flying', text)
    } catch {
      // A device that keeps nothing cannot go on with a flight; this one goes on all the same.
    }
  },
}
