package witnessmark

import org.junit.Assert.*
import org.junit.Test
import witnessmark.door.*

/**
 * Half a character in a text. Alone in its process (each class is): the generated Kotlin takes another
 * hold of the object before it lowers the text, and never lets go of it when lowering throws (UniFFI
 * 0.32), so one emptied object stays. Everything that matters is given up by `shut` all the same.
 */
class HalfTest {
    @Test
    fun halfACharacterIsRefusedAndShutStillGivesUpEverything() {
        val folder = folder()
        val book = book(folder)
        val craft = book.craft()
        for (half in listOf("\uD800", "a\uDC00b")) {
            try {
                book.writeNote(half, place(craft))
                fail("half a character was taken")
            } catch (_: java.nio.charset.CharacterCodingException) {
            }
        }
        assertEquals(0, book.unplaced(craft).captures.size)
        book.shut()
        book.close()
        // the writer's lock is free, and nothing of the text was written
        val again = Notebook.open(folder.resolve("book").toString(), seed(7))
        assertFalse(again.verify().failed)
        again.shut()
        again.close()
        assertTrue("alive: ${liveObjects()}", liveObjects() <= 1uL)
        gone(folder)
    }
}
