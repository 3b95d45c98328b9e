package witnessmark

import java.nio.file.Path
import witnessmark.door.*

/** Everything that a run of the main job handed out, in order. */
class Job(val folder: Path) {
    val shown = mutableListOf<Any>()
    lateinit var craft: String
    lateinit var finding: String
    lateinit var pack: String
    lateinit var first: WalkView
    lateinit var stop: StopView
    lateinit var photoEntry: CapturedView
    lateinit var drawn: MeasureView
    lateinit var told: FindingScreen
    lateinit var zone: ZoneScreen
    lateinit var done: FinishView
    lateinit var packed: PackedView
    lateinit var received: ReceivedView
    lateinit var checked: VerifyView
    lateinit var beyond: VerifyView
    lateinit var turned: ExchangeView

    fun <T : Any> seen(what: T): T = what.also { shown.add(it) }

    fun <T : Any> seenAll(what: List<T>): List<T> = what.also { shown.addAll(it) }

    /** Walkaround, photo, voice, note, place, draft, finding, measure, finish, history, pack, receive, verify. */
    fun run(): Job {
        val book = book(folder)
        seen(firstStart())
        seenAll(purposes())
        seenAll(conditions())
        seenAll(events())
        seenAll(cuts())
        craft = book.craft()
        book.startWalkaround(craft, WalkaroundGiven("preflight", "1200.5", "310"))
        first = seen(book.walk(craft, route))
        stop = seen(book.stop(craft, first.nextStop!!, route))
        val next = seen(book.nothingFoundNext(craft, stop.key, route))
        photoEntry = seen(book.takePhoto(Source.Path(photo.path), place(craft, next.stop)))
        val voice = seen(book.takeVoice(wav(folder), place(craft, next.stop)))
        book.addTranscript(voice.entry, "crack two inches on the left wheel fairing", "typed", null, "en")
        seen(book.takePaper(Source.Path(photo.path), "log_page", place(craft)))
        seen(book.writeNote("paint flaked at the seam", place(craft, next.stop)))
        seen(book.unplaced(craft))
        // a number that sounds like another word is asked about, never guessed
        val asked = seen(book.hear(craft, "crack on the fairing", listOf(), null))
        if (asked.questions.isNotEmpty() && asked.questions[0].choices.isNotEmpty()) {
            seen(book.answer(craft, asked.draft, 0u, asked.questions[0].choices[0]))
        }
        val draft = seen(book.hear(craft, "crack two inches on the left wheel fairing", listOf(), null))
        check(draft.mayKeep) { draft }
        val kept = seen(book.keep(craft, draft.draft, null))
        finding = kept.opened[0]
        val line = book.finding(craft, finding).line
        book.place(photoEntry.entry, place(craft, next.stop, line.zone, finding))
        seen(book.left(craft, route))
        book.look(
            craft,
            LookGiven(listOf(stop.zones[0].code), "no ladder", "glance", "cowl", mapOf()),
        )
        done = seen(book.finishWalkaround(craft))

        book.setClock("2026-06-03T09:00:00+02:00")
        book.startWalkaround(craft, WalkaroundGiven("routine", "1230.0", null))
        seen(book.again(craft))
        val work = PhotoAtWork.open(plain(folder))
        try {
            seen(work.size())
            val size = work.size()
            val (w, h) = size.width.toDouble() to size.height.toDouble()
            seen(work.setScale(ScaleGiven.Ruler(listOf(Dot(0.1 * w, 0.9 * h), Dot(0.9 * w, 0.9 * h)), 100.0)))
            seen(work.draw(listOf(Dot(0.1 * w, 0.5 * h), Dot(0.5 * w, 0.5 * h)), false))
            drawn = seen(work.measure())
            seen(work.lay(plain(folder)))
        } finally {
            work.shut()
            work.close()
        }
        book.sight(craft, finding, sighting(drawn.measure.copy(photo = photoEntry.entry)))
        book.concern(craft, finding, "ask")
        book.treat(craft, finding, "stop_drilled", "B. Example")
        book.told(craft, finding, "B. Example")
        book.limit(craft, finding, "length", "3", "in", "invented manual 5-10")
        book.lookAgain(craft, finding, "25 h")
        book.lookAgainZone(craft, line.zone, "next flight")
        book.sight(craft, finding, sighting(measure("4")))
        told = seen(book.finding(craft, finding))
        seenAll(book.findings(craft))
        zone = seen(book.zone(craft, line.zone))
        book.writeReading(craft, "oil_found", "6.5", "qt", null, mapOf())
        seen(book.readings(craft))
        seen(book.event(craft, "hard_landing"))
        book.writeEvent(craft, "hard_landing", "third bounce")
        seen(book.beforeFlight(craft))
        book.readBeforeFlight(craft)
        seen(book.findingsQr(craft))
        book.writeNote("for the bin", place(craft))
        seen(book.undo(craft))
        book.finishWalkaround(craft)
        seen(book.settings())
        seenAll(book.aircraft())
        checked = seen(book.verify())
        seen(book.handOver(craft))
        val way = folder.resolve("way").also { java.nio.file.Files.createDirectory(it) }
        turned = seen(book.exchangeTurn(listOf(), way.toString()))
        pack = folder.resolve("pack.zip").toString()
        packed = seen(book.pack(craft, "review", null, false, false, pack))
        book.page(craft, Source.Path(folder.resolve("page.html").toString()))
        book.backup(folder.resolve("backup").toString())
        book.shut()
        book.close()

        val other = book(folder, "other", Author("B. Example", "mechanic"), 8, "2026-06-04T09:00:00+02:00")
        received = seen(other.receive(Source.Path(pack), false))
        beyond = seen(other.verify())
        check(other.findings(craft)[0].id == finding)
        check(other.vouch(craft) == 1u)
        other.shut()
        other.close()
        return this
    }
}
