package witnessmark.shell.finding

import witnessmark.door.FindingScreen
import witnessmark.shell.R
import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** One finding: its story with the growth drawn, and what people do about it. */
class FindingScreenShown(host: Host, at: Where) : Screen(host, at) {
    private val finding get() = at["finding"].orEmpty()

    override fun load(): Unit = ask({ it.finding(aircraft, finding) }) { shown ->
        draw {
            title(shown.line.title, "${shown.line.short} · ${shown.zoneName}")
            shown.cautions.forEach { caution(it) }
            line(shown.line.says)
            quiet(shown.first)
            shown.limit?.let { line(it) }
            shown.again?.let { line(it) }
            shown.concerns.forEach { quiet(it) }
            if (GrowthView.drawable(shown.story)) picture(GrowthView(host.activity, ink, shown.story).apply { contentDescription = shown.line.says }, 150)
            heading(word(R.string.story))
            for (step in shown.story) {
                ruled("${step.date}  ${step.says}", listOfNotNull(step.change.ifEmpty { null }, step.by, step.hours).joinToString(" · "))
                step.photos.lastOrNull()?.let { photo(it.path, it.orientation.toInt(), word(R.string.photo_of, it.date), 130) }
            }
            for (picture in shown.photos) photo(picture.path, picture.orientation.toInt(), word(R.string.measure_on, picture.date), 130, "measure:${picture.entry}") {
                host.go(Where("measure", mapOf("aircraft" to aircraft, "finding" to finding, "photo" to picture.entry, "path" to picture.path, "turned" to picture.orientation.toString())))
            }
            action(word(R.string.seen_again), "main", "sight") { host.go(Where("sight", mapOf("aircraft" to aircraft, "finding" to finding))) }
            action(word(R.string.photo), "usual", "photo") { host.go(Where("viewfinder", mapOf("aircraft" to aircraft, "finding" to finding, "zone" to shown.line.zone))) }
            if (shown.photos.size > 1) action(word(R.string.older_on_newer), "usual", "lay") { lay(shown) }
            action(word(R.string.not_found), "usual", "not_found") {
                write({ it.sight(aircraft, finding, sighting("not_found")) }) { word(R.string.saved_not_found) }
            }
            action(word(R.string.hand_this_over), "small", "handover") { host.go(Where("handover", mapOf("aircraft" to aircraft, "finding" to finding))) }
            action(word(R.string.ask_concern), "small", "concern:ask") { write({ it.concern(aircraft, finding, "ask") }) { word(R.string.concern_saved) } }
            action(word(R.string.before_flight_concern), "small", "concern:before_flight") { write({ it.concern(aircraft, finding, "before_flight") }) { word(R.string.concern_saved) } }
            action(word(R.string.done_about), "small", "done_about") { host.go(Where("done", mapOf("aircraft" to aircraft, "finding" to finding))) }
            action(word(R.string.back), "small", "back") { host.back() }
        }
    }

    private fun lay(shown: FindingScreen) {
        val older = shown.photos[shown.photos.size - 2]; val newer = shown.photos.last()
        host.go(
            Where(
                "lay",
                mapOf(
                    "aircraft" to aircraft, "older" to older.path, "newer" to newer.path, "older_date" to older.date, "newer_date" to newer.date,
                    "older_line" to older.line.joinToString(","), "newer_line" to newer.line.joinToString(","), "closed" to if (newer.closed) "yes" else "",
                    "older_turned" to older.orientation.toString(), "newer_turned" to newer.orientation.toString(),
                ),
            ),
        )
    }
}
