// Shell of a tip counter device: what a board adds to the core. A sketch: fill in the six functions of your
// board (their bodies are in a file of your own) and call contact_changed() from the interrupt of each
// contact's pin, on both edges. The contact pulls its pin to ground; the pin has a pull-up, so low is closed.
#include "tip_counter_core.hpp"

extern "C" {
void board_begin();                      // pins with pull-ups and interrupts, serial line at 115200 8N1
uint32_t board_microseconds();           // free-running, 32 bits
bool board_pin_is_low(uint8_t contact);  // 1 or 2
int board_received();                    // the next character that came from the host, -1 when there is none
void board_send(const char* bytes, int length);
void board_interrupts(bool on);
}

static tip_counter::Core* core = 0;

extern "C" void contact_changed(uint8_t contact) {
    if (core) core->edge(contact, board_pin_is_low(contact), board_microseconds());
}

int main() {
    board_begin();
    static tip_counter::Core made(board_microseconds());
    core = &made;
    char line[tip_counter::line_length];
    for (;;) {
        for (int c = board_received(); c >= 0; c = board_received()) made.heard(static_cast<char>(c));
        board_interrupts(false);
        const int length = made.poll(board_microseconds(), line);
        board_interrupts(true);
        if (length > 0) board_send(line, length);
    }
}
