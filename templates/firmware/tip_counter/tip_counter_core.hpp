// Core of a tip counter device: contact changes in, lines out, as templates/instruments/README.md describes
// them (family tip-counter). Plain C++11 without the standard library's classes, so that any small board's
// compiler takes it; no interrupt, timer or port of any board in here. The shell beside it shows what a board
// must add.
//
// edge() is called where a contact changes (an interrupt), poll() all the time from the main loop. Both take
// the board's free-running microsecond counter of 32 bits, which poll() makes 64 bits long: call it at least
// hourly.
#ifndef TIP_COUNTER_CORE_HPP
#define TIP_COUNTER_CORE_HPP

#include <stdint.h>

namespace tip_counter {

// Lines that wait to be sent. A contact that bounces makes ten or twenty within a few milliseconds.
enum { queue_length = 64, line_length = 64, identity_length = 20 };
static const uint32_t heartbeat_us = 2000000;

struct Edge {
    uint32_t number;
    uint32_t at_us;
    uint8_t contact;
    uint8_t closed;
};

class Core {
public:
    // identity: what it says when asked, 1 to 20 printable characters, kept as long as the core.
    explicit Core(uint32_t now_us, const char* identity = "tip-counter")
        : identity_(identity), last_us_(now_us), beat_us_(now_us - heartbeat_us) {}

    // From the interrupt. What finds no room still gets a number: the gap tells the host that lines are
    // missing.
    void edge(uint8_t contact, bool closed, uint32_t now_us) {
        const uint32_t number = sequence_ + 1;
        sequence_ = number;
        const uint8_t next = static_cast<uint8_t>((head_ + 1) % queue_length);
        if (next == tail_) return;
        queue_[head_].number = number;
        queue_[head_].at_us = now_us;
        queue_[head_].contact = contact;
        queue_[head_].closed = closed ? 1 : 0;
        head_ = next;
    }

    // From the main loop: a character that came from the host. "ID?" and CR asks who it is; all else means
    // nothing.
    void heard(char c) {
        static const char question[] = "ID?\r";
        heard_ = static_cast<uint8_t>(c == question[heard_] ? heard_ + 1 : c == question[0] ? 1 : 0);
        if (question[heard_] != 0) return;
        heard_ = 0;
        asked_ = true;
    }

    // From the main loop: writes the next line into `line` and gives its length, 0 when there is none.
    // Interrupts must be held off meanwhile only where a copy of 32 bits is not one instruction of the board.
    int poll(uint32_t now_us, char (&line)[line_length]) {
        now_us_ += static_cast<uint32_t>(now_us - last_us_);
        last_us_ = now_us;
        if (tail_ != head_) {
            const Edge edge = queue_[tail_];
            tail_ = static_cast<uint8_t>((tail_ + 1) % queue_length);
            // An edge is younger than half the counter's range, and may be younger than this poll.
            const uint64_t at_us =
                now_us_ -
                static_cast<uint64_t>(static_cast<int64_t>(static_cast<int32_t>(now_us - edge.at_us)));
            return write(line, 'E', edge.number, at_us, edge.contact, edge.closed);
        }
        const bool beat = static_cast<uint32_t>(now_us - beat_us_) >= heartbeat_us;
        if (!beat && !asked_) return 0;
        const uint32_t number = sequence_ + 1;
        sequence_ = number;
        if (asked_) {
            asked_ = false;
            return write(line, 'I', number, now_us_, 0, 0);
        }
        beat_us_ = now_us;
        return write(line, 'H', number, now_us_, 0, 0);
    }

private:
    static int put_number(char* at, uint64_t number) {
        char digits[20];
        int count = 0;
        do {
            digits[count++] = static_cast<char>('0' + number % 10);
            number /= 10;
        } while (number != 0);
        for (int i = 0; i < count; ++i) at[i] = digits[count - 1 - i];
        return count;
    }

    // CRC-16/MODBUS: reflected polynomial A001, start FFFF.
    static uint16_t checksum(const char* text, int length) {
        uint16_t crc = 0xFFFF;
        for (int i = 0; i < length; ++i) {
            crc = static_cast<uint16_t>(crc ^ static_cast<uint8_t>(text[i]));
            for (int bit = 0; bit < 8; ++bit)
                crc = static_cast<uint16_t>((crc & 1) ? (crc >> 1) ^ 0xA001 : crc >> 1);
        }
        return crc;
    }

    int write(char* line, char kind, uint32_t number, uint64_t at_us, uint8_t contact, uint8_t closed) const {
        int n = 0;
        line[n++] = kind;
        line[n++] = ' ';
        n += put_number(line + n, number);
        line[n++] = ' ';
        n += put_number(line + n, at_us);
        if (kind == 'E') {
            line[n++] = ' ';
            line[n++] = static_cast<char>('0' + contact);
            line[n++] = ' ';
            line[n++] = closed ? '1' : '0';
        }
        if (kind == 'I') {
            line[n++] = ' ';
            for (int i = 0; i < identity_length && identity_[i] != 0; ++i) line[n++] = identity_[i];
        }
        const uint16_t crc = checksum(line, n);
        line[n++] = ' ';
        line[n++] = '*';
        for (int shift = 12; shift >= 0; shift -= 4) line[n++] = "0123456789ABCDEF"[(crc >> shift) & 15];
        line[n++] = '\r';
        line[n++] = '\n';
        return n;
    }

    volatile uint32_t sequence_ = 0;
    volatile uint8_t head_ = 0;
    volatile uint8_t tail_ = 0;
    Edge queue_[queue_length];
    const char* identity_;
    uint8_t heard_ = 0;
    bool asked_ = false;
    uint64_t now_us_ = 0;
    uint32_t last_us_;
    uint32_t beat_us_;
};

}  // namespace tip_counter

#endif
