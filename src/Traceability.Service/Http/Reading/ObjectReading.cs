using System.Text.Json;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http.Reading;

/// <summary>An object that is being read, member by member. A member that is wrong becomes a fault, and reads as its type's default.</summary>
internal readonly struct ObjectReading(JsonReading reading, Shape shape, int start, bool isObject) : IDisposable
{
    /// <summary>The pass that it belongs to.</summary>
    public JsonReading Reading => reading;

    /// <inheritdoc />
    public void Dispose() => reading.Close(start);

    /// <summary>Adds a fault at a member.</summary>
    public void Fail(string name, string detail) => reading.Fail(name, detail);

    /// <summary>Whether the member was sent, and not as null.</summary>
    public bool Has(string name) => Find(name).ValueKind is not (JsonValueKind.Undefined or JsonValueKind.Null);

    public T Code<T>(string name)
        where T : struct, ICode<T> =>
        Require(name, out var element) && reading.TryCode<T>(element, name, out var code) ? code : default;

    public T? CodeOrNull<T>(string name)
        where T : struct, ICode<T> =>
        Find(name, out var element) && reading.TryCode<T>(element, name, out var code) ? code : null;

    /// <summary>A text that says something: not empty, not only spaces.</summary>
    public string Text(string name)
    {
        if (!Require(name, out var element) || !reading.TryText(element, name, out var text))
        {
            return string.Empty;
        }

        if (string.IsNullOrWhiteSpace(text))
        {
            Fail(name, "The text must not be empty.");
        }

        return text;
    }

    public string? TextOrNull(string name) =>
        Find(name, out var element) && reading.TryText(element, name, out var text) ? text : null;

    public DateTimeOffset Time(string name) =>
        Require(name, out var element) && reading.TryTime(element, name, out var time) ? time : default;

    public DateTimeOffset? TimeOrNull(string name) =>
        Find(name, out var element) && reading.TryTime(element, name, out var time) ? time : null;

    public TimeSpan? DurationOrNull(string name) =>
        Find(name, out var element) && reading.TryDuration(element, name, out var duration) ? duration : null;

    public bool Flag(string name) => Require(name, out var element) && reading.TryFlag(element, name, out var flag) && flag;

    public bool Flag(string name, bool absent) =>
        Find(name, out var element) ? reading.TryFlag(element, name, out var flag) && flag : absent;

    public decimal Number(string name) =>
        Require(name, out var element) && reading.TryNumber(element, name, out var number) ? number : 0m;

    public decimal NumberOrZero(string name) =>
        Find(name, out var element) && reading.TryNumber(element, name, out var number) ? number : 0m;

    public int Count(string name, int absent, int max) =>
        Find(name, out var element) ? reading.TryCount(element, name, max, out var count) ? count : absent : absent;

    public Guid Id(string name) => Require(name, out var element) && reading.TryId(element, name, out var id) ? id : Guid.Empty;

    public TEnum OneOf<TEnum>(string name)
        where TEnum : struct, Enum =>
        Require(name, out var element) && reading.TryOneOf<TEnum>(element, name, out var value) ? value : default;

    public TEnum OneOf<TEnum>(string name, TEnum absent)
        where TEnum : struct, Enum =>
        Find(name, out var element) ? reading.TryOneOf<TEnum>(element, name, out var value) ? value : absent : absent;

    /// <summary>A UCUM code.</summary>
    public string UnitOfMeasure(string name) =>
        Require(name, out var element) && reading.TryUnitOfMeasure(element, name, out var unit) ? unit : string.Empty;

    public string? UnitOfMeasureOrNull(string name) =>
        Find(name, out var element) && reading.TryUnitOfMeasure(element, name, out var unit) ? unit : null;

    /// <summary>An object that must be there; null if it isn't, or isn't an object.</summary>
    public T? Object<T>(string name, Func<JsonReading, JsonElement, T> read)
        where T : class =>
        Require(name, out var element) ? Inside(name, element, read) : null;

    public T ObjectOr<T>(string name, T absent, Func<JsonReading, JsonElement, T> read) =>
        Find(name, out var element) ? Inside(name, element, read) : absent;

    public T Value<T>(string name, Func<JsonReading, JsonElement, T> read)
        where T : struct =>
        Require(name, out var element) ? Inside(name, element, read) : default;

    public T? ValueOrNull<T>(string name, Func<JsonReading, JsonElement, T> read)
        where T : struct =>
        Find(name, out var element) ? Inside(name, element, read) : null;

    /// <summary>An array of objects; empty where it was left out.</summary>
    public ImmutableArray<T> List<T>(string name, Func<JsonReading, JsonElement, T> read)
    {
        if (!Find(name, out var element) || !IsArray(name, element, out var length))
        {
            return [];
        }

        var entries = ImmutableArray.CreateBuilder<T>(length);
        reading.Enter(name);
        var index = 0;
        foreach (var entry in element.EnumerateArray())
        {
            reading.Enter(index++);
            entries.Add(read(reading, entry));
            reading.Leave();
        }

        reading.Leave();
        return entries.MoveToImmutable();
    }

    public ImmutableArray<T> Codes<T>(string name)
        where T : struct, ICode<T> =>
        List<T>(name, static (r, e) => r.TryCode<T>(e, null, out var code) ? code : default);

    public ImmutableArray<string> Texts(string name) =>
        List<string>(name, static (r, e) => r.TryText(e, null, out var text) ? text : string.Empty);

    private T Inside<T>(string name, JsonElement element, Func<JsonReading, JsonElement, T> read)
    {
        reading.Enter(name);
        var value = read(reading, element);
        reading.Leave();
        return value;
    }

    private bool IsArray(string name, JsonElement element, out int length)
    {
        length = 0;
        if (element.ValueKind != JsonValueKind.Array)
        {
            Fail(name, $"An array is expected, not {JsonReading.Describe(element)}.");
            return false;
        }

        length = element.GetArrayLength();
        if (length > WireLimits.ArrayLengthMax)
        {
            Fail(name, $"The array has {length} entries; at most {WireLimits.ArrayLengthMax} are allowed.");
            return false;
        }

        return true;
    }

    private JsonElement Find(string name) => reading.Slot(start + shape.IndexOf(name));

    private bool Find(string name, out JsonElement element)
    {
        element = Find(name);
        return element.ValueKind is not (JsonValueKind.Undefined or JsonValueKind.Null);
    }

    // What isn't an object has been told so; its members are not told as missing on top.
    private bool Require(string name, out JsonElement element)
    {
        var found = Find(name, out element);
        if (!found && isObject)
        {
            Fail(name, "The member is missing.");
        }

        return found;
    }
}
