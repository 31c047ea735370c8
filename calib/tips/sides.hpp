// Sides: which compartment of a bucket is the one that a person can touch. Tips alone tell two compartments
// apart, not which screw belongs to which: somebody says which side rests up, under the funnel, before the
// first tip, and tips are counted on from there. What a run knows of it is a sentence of its record, written
// and recognised here.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>

#include "calib/tips/observation.hpp"

namespace tipwright::calib {

// How a gauge's kind describes its sides: "at the screw nearest the terminal block".
struct SideMarks {
    std::string a;
    std::string b;
};

// "side A (at the screw nearest the terminal block)"; without a mark "side A".
std::string side_text(const SideMarks& marks, char side);

std::string sides_known_text(const SideMarks& marks, char up);
std::string sides_moved_text();  // the bucket lay on the other side when the run was resumed
// The difference between A and B turned over at that step: which is which is not known.
std::string sides_turned_text(int step);

// One of those sentences taken apart, for whoever says it in another language; nothing: it is none of them.
struct SidesKnown {
    std::string mark_a;  // may be empty
    char up = 'A';
};
std::optional<SidesKnown> read_sides_known(const std::string& text);
std::optional<int> read_sides_turned(const std::string& text);

enum class SidesSaid { nothing, known, unknown };
// What those sentences, among others, say of a record; unknown goes before known.
SidesSaid sides_said(std::span<const std::string> remarks);

// Position of the first of these collects, in the order they were measured, whose difference of A and B is
// that of those before turned over: a tip was lost, or the bucket was laid on its other side. Only what
// stands out of its uncertainty counts, 3 u (common practice, no source).
std::optional<std::size_t> turned_over_at(std::span<const StepObservation> collects);

// A and B by the other's name.
void swap_sides(StepObservation& collect);

}  // namespace tipwright::calib
