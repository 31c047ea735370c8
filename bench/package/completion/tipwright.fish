# Completion of tipwright for fish: the program itself knows what may stand here.
function __tipwright_candidates
    set -l words (commandline -opc) (commandline -ct)
    tipwright complete $words[2..-1] 2>/dev/null
end
complete -c tipwright -a '(__tipwright_candidates)'
