using System.Text;
using System.Text.Json;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http.Reading;

/// <summary>One pass over a JSON value that collects every fault with its JSON pointer (RFC 6901). For one thread.</summary>
internal sealed class JsonReading
{
    private readonly List<Fault> _faults = [];
    private (string? Name, int Index)[] _path = new (string?, int)[16];
    private int _depth;
    private JsonElement[] _slots = new JsonElement[96];
    private int _used;

    // Every fact that arrives is read: the thread keeps the arrays for the next one.
    [ThreadStatic]
    private static JsonReading? _kept;

    /// <summary>A reading to begin with; give it back with <see cref="Return"/>.</summary>
    public static JsonReading Rent()
    {
        var reading = _kept ?? new();
        _kept = null;
        return reading;
    }

    /// <summary>Gives the reading back; nothing of it may be used any more.</summary>
    public void Return()
    {
        // Slots that are left filled would hold on to what was read.
        Array.Clear(_slots);
        _faults.Clear();
        (_depth, _used) = (0, 0);
        if (_slots.Length <= 1024)
        {
            _kept = this;
        }
    }

    /// <summary>Whether anything is wrong so far.</summary>
    public bool HasFaults => _faults.Count > 0;

    /// <summary>How many faults there are so far.</summary>
    public int FaultCount => _faults.Count;

    /// <summary>The faults, in the order of reading.</summary>
    public ImmutableArray<Fault> Faults => [.. _faults];

    /// <summary>Adds a fault at the present place, or at a member of it.</summary>
    public void Fail(string? member, string detail)
    {
        if (_faults.Count == WireLimits.FaultsMax)
        {
            _faults.Add(new(string.Empty, $"There are more faults; the first {WireLimits.FaultsMax} are listed."));
        }

        if (_faults.Count < WireLimits.FaultsMax)
        {
            _faults.Add(new(Pointer(member), detail));
        }
    }

    /// <summary>Goes into a member.</summary>
    public void Enter(string name) => Push((name, 0));

    /// <summary>Goes into an entry of an array.</summary>
    public void Enter(int index) => Push((null, index));

    /// <summary>Goes back to where the last <see cref="Enter(string)"/> came from.</summary>
    public void Leave() => _depth--;

    /// <summary>
    /// Opens the object at the present place: sorts its members into the shape's, tells the unknown and the doubled.
    /// Anything but an object is a fault, and opens as an object without members.
    /// </summary>
    /// <param name="element">The value.</param>
    /// <param name="shape">The members that it may have.</param>
    /// <param name="isOpenEnded">It may have others too, which are passed over.</param>
    public ObjectReading Open(JsonElement element, Shape shape, bool isOpenEnded = false)
    {
        var start = _used;
        _used += shape.Count;
        if (_used > _slots.Length)
        {
            Array.Resize(ref _slots, Math.Max(_slots.Length * 2, _used));
        }

        _slots.AsSpan(start, shape.Count).Clear();
        if (element.ValueKind != JsonValueKind.Object)
        {
            Fail(null, $"An object is expected, not {Describe(element)}.");
            return new(this, shape, start, isObject: false);
        }

        var hint = 0;
        foreach (var property in element.EnumerateObject())
        {
            var at = shape.Match(property, hint);
            if (at < 0)
            {
                if (!isOpenEnded)
                {
                    FailUnknown(property, shape);
                }

                continue;
            }

            hint = at + 1;
            ref var slot = ref _slots[start + at];
            if (slot.ValueKind != JsonValueKind.Undefined)
            {
                Fail(shape.Names[at], "The member is given twice.");
            }

            slot = property.Value;
        }

        return new(this, shape, start, isObject: true);
    }

    /// <summary>Gives back the slots of an object that was opened.</summary>
    public void Close(int start) => _used = start;

    /// <summary>The member that was sent at a slot; undefined if none was.</summary>
    public JsonElement Slot(int at) => _slots[at];

    /// <summary>Says what a value is, for a message.</summary>
    public static string Describe(JsonElement element) => element.ValueKind switch
    {
        JsonValueKind.Object => "an object",
        JsonValueKind.Array => "an array",
        JsonValueKind.String => "a text",
        JsonValueKind.Number => "a number",
        JsonValueKind.True or JsonValueKind.False => "true or false",
        JsonValueKind.Null => "null",
        _ => "nothing",
    };

    private static bool TryName(JsonProperty property, out string name)
    {
        try
        {
            name = property.Name;
            return true;
        }
        catch (InvalidOperationException)
        {
            // Half a surrogate pair, or bytes that are no UTF-8.
            name = string.Empty;
            return false;
        }
    }

    private void FailUnknown(JsonProperty property, Shape shape)
    {
        if (!TryName(property, out var name))
        {
            Fail(null, "The name of a member is not valid Unicode.");
            return;
        }

        var shown = name.Length > 100 ? name[..100] : name;
        var detail = name switch
        {
            "clock" or "sentBy" or "recordedAt" => "The service sets this member. Leave it out.",
            "factId" when _path.AsSpan(0, _depth).Contains(("replacement", 0)) => "A replacement has no factId: it takes the place of the record that it corrects. Leave it out.",
            _ => $"The member '{shown}' is not known here.{Suggestions.Hint(name, shape.Names)}",
        };
        Fail(shown, detail);
    }

    private void Push((string? Name, int Index) segment)
    {
        if (_depth == _path.Length)
        {
            Array.Resize(ref _path, _path.Length * 2);
        }

        _path[_depth++] = segment;
    }

    private string Pointer(string? member)
    {
        var text = new StringBuilder();
        for (var i = 0; i < _depth; i++)
        {
            var (name, index) = _path[i];
            text.Append('/');
            if (name is null)
            {
                text.Append(System.Globalization.CultureInfo.InvariantCulture, $"{index}");
            }
            else
            {
                text.Append(Escape(name));
            }
        }

        return member is null ? text.ToString() : text.Append('/').Append(Escape(member)).ToString();
    }

    private static string Escape(string name) =>
        name.Replace("~", "~0", StringComparison.Ordinal).Replace("/", "~1", StringComparison.Ordinal);
}
