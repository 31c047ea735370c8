# Completion of tipwright for bash: the program itself knows what may stand here.
_tipwright() {
    local IFS=$'\n'
    mapfile -t COMPREPLY < <(tipwright complete "${COMP_WORDS[@]:1:COMP_CWORD}" 2>/dev/null)
    # A name with blanks is one word; within quotes it is so by itself.
    [[ ${COMP_WORDS[COMP_CWORD]} == [\'\"]* ]] && return
    local i
    for i in "${!COMPREPLY[@]}"; do printf -v "COMPREPLY[$i]" %q "${COMPREPLY[i]}"; done
}
complete -o default -F _tipwright tipwright
