// Where the folder of templates is when nobody names one: found from where the program stands, so that an
// installed program may be moved as a whole, and no path of the machine that built it is kept.
#pragma once

#include <filesystem>

namespace tipwright::program {

// The templates beside the program `executable`: <its folder>/../share/tipwright/templates (installed), else
// <its folder>/share/tipwright/templates (a build tree). The first is named where there is neither.
std::filesystem::path templates_beside(const std::filesystem::path& executable);
// The same of the running program.
std::filesystem::path templates_place();

}  // namespace tipwright::program
