package witnessmark.shell.kit

import witnessmark.door.AskLine

/** Questions whose answers make two values comparable; answered by one tap where the core knows the answers. */
fun Page.asked(asks: List<AskLine>, screen: Screen, redraw: () -> Unit) {
    for (ask in asks) {
        if (ask.choices.isEmpty()) field(listOfNotNull(ask.asked, ask.unit).joinToString(" · "), "", "ask:${ask.key}")
        else {
            heading(ask.asked)
            choose(ask.choices.map { it to it }, screen.noted("ask ${ask.key}"), "ask:${ask.key}") { screen.note("ask ${ask.key}", it); redraw() }
        }
    }
}

/** What was answered so far. */
fun Screen.answers(asks: List<AskLine>): Map<String, String> = asks.mapNotNull { ask ->
    val answer = noted("ask ${ask.key}") ?: noted("field ask:${ask.key}")
    answer?.trim()?.ifEmpty { null }?.let { ask.key to it }
}.toMap()
