package lines

import (
	"encoding/json"
	"fmt"
	"reflect"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rindkeep/wheel"
)

// filled sets every field of a struct to something that is not zero.
func filled(v reflect.Value) {
	for i := range v.NumField() {
		switch x := v.Field(i); {
		case x.Type() == reflect.TypeFor[time.Time]():
			x.Set(reflect.ValueOf(time.UnixMilli(1764000000123 + int64(i)).UTC()))
		case x.Type() == reflect.TypeFor[uuid.UUID]():
			x.Set(reflect.ValueOf(uuid.UUID{byte(i + 1)}))
		case x.Kind() == reflect.Struct:
			filled(x)
		case x.Kind() == reflect.String:
			x.SetString(fmt.Sprintf("text %d", i))
		case x.CanUint():
			x.SetUint(uint64(1 + i%2))
		case x.CanInt():
			x.SetInt(int64(1 + i))
		case x.CanFloat():
			x.SetFloat(1.5 + float64(i))
		case x.Kind() == reflect.Bool:
			x.SetBool(true)
		default:
			panic("no way to fill a " + x.Type().String())
		}
	}
}

func TestNoFieldOfAnEntryIsLostOnTheWay(t *testing.T) {
	var e wheel.Entry
	filled(reflect.ValueOf(&e).Elem())
	line, err := json.Marshal(Entry(e))
	if err != nil {
		t.Fatal(err)
	}
	back, err := ReadEntry(line)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(e, back); d != "" {
		t.Errorf("an entry with everything comes back otherwise (-want +got):\n%s\n%s", d, line)
	}
	for i := range entryType.NumField() {
		if f := entryType.Field(i); f.Type.Kind() == reflect.Float64 && entryUnits[f.Name] == "" {
			t.Errorf("field %s of an entry is a figure without a name that ends in its unit: see entryUnits", f.Name)
		}
	}
}
