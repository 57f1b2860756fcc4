# What a case takes in stays in its folder tree; what is written stays in the folder that was chosen, whatever links
# lie in the way.
. "$(dirname "$0")/harness.sh"
mkdir -p "$scratch/case/sub" "$scratch/outside" "$scratch/out.d" && cd "$scratch/case" || exit 1

body='headform: {size: J}
shell: {material: abs, thickness: 3.5 mm}
liner: {foam: eps, density: 50 g/l, thickness: 35 mm}
impacts: [{at: P, anvil: flat, speed: 3 m/s}]
solver: {duration: 1 ms, rings: 8}'
echo "$body" >"$scratch/outside/part.yaml"
echo "$body" >sub/part.yaml
ln -s "$scratch/outside/part.yaml" link.yaml
ln -s "$scratch/outside" linked
ln -s sub/part.yaml inner.yaml
ln -s link.yaml twice.yaml
mkfifo pipe.yaml

# includes NAME PATH STATUS WORDS
includes() {
    echo "include: $2" >case.yaml
    timeout 20 "$FOAMPULSE" check case.yaml >"$scratch/out" 2>"$scratch/err" </dev/null
    status=$?
    exits "include $1: status" "$3"
    [ "$3" = 0 ] || says "include $1: place and words" err "case.yaml:1:10: error: $4"
}
outside="is outside the folder of the case"
includes "from below" sub/part.yaml 0
includes "by a link that stays inside" inner.yaml 0
includes "from above" ../outside/part.yaml 3 "../outside/part.yaml $outside"
includes "from above by a detour" sub/../../outside/part.yaml 3 "sub/../../outside/part.yaml $outside"
includes "by an absolute path" "$scratch/outside/part.yaml" 3 "$scratch/outside/part.yaml $outside"
includes "by a link to outside" link.yaml 3 "link.yaml $outside"
includes "by a link to a link to outside" twice.yaml 3 "twice.yaml $outside"
includes "through a linked folder" linked/part.yaml 3 "linked/part.yaml $outside"
includes "of a device" /dev/zero 3 "/dev/zero $outside"
includes "of a pipe" pipe.yaml 3 "pipe.yaml: this is not an ordinary file"
echo "include: ../../outside/part.yaml" >sub/up.yaml
echo "include: sub/up.yaml" >case.yaml
run check case.yaml
exits "include of a file that includes from above: status" 3
says "include of a file that includes from above: words" err "sub/up.yaml:1:10: error: ../../outside/part.yaml $outside"

# untouched NAME: nothing outside was written
echo "not yours" >"$scratch/outside/victim"
untouched() {
    same "$1: the file outside" "not yours" "$(cat "$scratch/outside/victim")"
    same "$1: nothing else outside" "part.yaml victim" "$(ls "$scratch/outside" | tr '\n' ' ' | sed 's/ $//')"
}
echo "$body" >own.yaml
ln -s "$scratch/outside/victim" own.h5
run run -q own.yaml
exits "a link in the place of the result: status" 4
untouched "a link in the place of the result"
run run -q -f own.yaml
exits "the same with -f: status" 0
untouched "the same with -f"
same "the same with -f: the link is gone" regular "$([ -L own.h5 ] || echo regular)"

ln -s "$scratch/outside/fresh" "$scratch/out.d/own.h5"
run run -q own.yaml -o "$scratch/out.d/"
exits "a dangling link in the folder given: status" 4
untouched "a dangling link in the folder given"

run plot own.h5 --picture pulse --format svg
picture=$(ls own*.svg)
rm "$picture"
ln -s "$scratch/outside/victim" "$picture"
run plot own.h5 --picture pulse --format svg
untouched "a link in the place of a picture"
rm "$picture"
ln -s "$scratch/outside/fresh.svg" "$picture"
run plot own.h5 --picture pulse --format svg
untouched "a dangling link in the place of a picture"
finish
