using System.Reflection;
using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Serialization;
using System.Text.Json.Serialization.Metadata;
using Traceability.Contracts;
using Traceability.Domain.Facts;
using Traceability.Domain.Routings;

namespace Traceability.Service.Storage;

/// <summary>The one form in which facts and judgements are stored as JSON.</summary>
/// <remarks>
/// Names in camelCase, enums in kebab-case, durations as ISO 8601, times with their offset. Left out is what says
/// nothing: nulls, empty arrays, an effectivity that applies to everything, a clock that was exact. Read back, what
/// is missing becomes that again; a missing member that has no such meaning is an error. Unknown members are passed
/// over, so that an older service reads what a newer one stored.
/// </remarks>
public static class EventJson
{
    /// <summary>The options; not to be changed.</summary>
    public static JsonSerializerOptions Options { get; } = Make();

    private static JsonSerializerOptions Make()
    {
        var resolver = new DefaultJsonTypeInfoResolver();
        resolver.Modifiers.Add(Describe);
        var options = new JsonSerializerOptions
        {
            PropertyNamingPolicy = JsonNamingPolicy.CamelCase,
            DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
            RespectNullableAnnotations = true,

            // PostgreSQL's jsonb stores members in an order of its own.
            AllowOutOfOrderMetadataProperties = true,
            Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping,
            TypeInfoResolver = resolver,
        };
        options.Converters.Add(new JsonStringEnumConverter(JsonNamingPolicy.KebabCaseLower, allowIntegerValues: false));
        options.Converters.Add(new IsoDurationConverter());
        return options;
    }

    private static void Describe(JsonTypeInfo info)
    {
        if (info.Kind != JsonTypeInfoKind.Object || info.Type.Assembly != typeof(Fact).Assembly)
        {
            return;
        }

        if (info.Type == typeof(Fact))
        {
            info.PolymorphismOptions = new() { TypeDiscriminatorPropertyName = "type" };
            foreach (var (type, _) in EventNames.All)
            {
                info.PolymorphismOptions.DerivedTypes.Add(new(type, EventNames.NestedNameOf(type)));
            }

            return;
        }

        DescribeMembers(info);
    }

    private static void DescribeMembers(JsonTypeInfo info)
    {
        var defaults = new List<Action<object>>();
        for (var i = info.Properties.Count - 1; i >= 0; i--)
        {
            var property = info.Properties[i];
            if (property.AttributeProvider is not PropertyInfo { SetMethod: not null } member)
            {
                // Computed from the others.
                info.Properties.RemoveAt(i);
                continue;
            }

            var type = property.PropertyType;
            if (type.IsGenericType && type.GetGenericTypeDefinition() == typeof(ImmutableArray<>))
            {
                var filler = (IFiller)Activator.CreateInstance(typeof(ArrayFiller<,>).MakeGenericType(info.Type, type.GetGenericArguments()[0]), member)!;
                property.ShouldSerialize = filler.SaysSomething;
                defaults.Add(filler.Fill);
            }
            else if (type == typeof(Effectivity))
            {
                var filler = (IFiller)Activator.CreateInstance(typeof(EffectivityFiller<>).MakeGenericType(info.Type), member)!;
                property.ShouldSerialize = filler.SaysSomething;
                defaults.Add(filler.Fill);
            }
            else if (type == typeof(ClockReading))
            {
                property.ShouldSerialize = static (_, value) => !((ClockReading)value!).Equals(default);
            }
            else
            {
                property.IsRequired = !property.IsSetNullable && Nullable.GetUnderlyingType(type) is null;
            }
        }

        if (defaults.Count > 0)
        {
            var fill = defaults.ToArray();
            info.OnDeserialized = value =>
            {
                foreach (var one in fill)
                {
                    one(value);
                }
            };
        }
    }

    private interface IFiller
    {
        bool SaysSomething(object owner, object? value);

        void Fill(object owner);
    }

    private sealed class ArrayFiller<TOwner, T>(PropertyInfo member) : IFiller
        where TOwner : class
    {
        private readonly Func<TOwner, ImmutableArray<T>> _get = member.GetMethod!.CreateDelegate<Func<TOwner, ImmutableArray<T>>>();
        private readonly Action<TOwner, ImmutableArray<T>> _set = member.SetMethod!.CreateDelegate<Action<TOwner, ImmutableArray<T>>>();

        public bool SaysSomething(object owner, object? value) => !((ImmutableArray<T>)value!).IsDefaultOrEmpty;

        public void Fill(object owner)
        {
            var read = _get((TOwner)owner);
            if (read.IsDefault)
            {
                _set((TOwner)owner, []);
            }
            else if (!typeof(T).IsValueType && read.Any(static e => e is null))
            {
                // The reader sees to members that are null, and not to elements.
                throw new JsonException($"An element of {member.Name} is null.");
            }
        }
    }

    private sealed class EffectivityFiller<TOwner>(PropertyInfo member) : IFiller
        where TOwner : class
    {
        private readonly Func<TOwner, Effectivity?> _get = member.GetMethod!.CreateDelegate<Func<TOwner, Effectivity?>>();
        private readonly Action<TOwner, Effectivity> _set = member.SetMethod!.CreateDelegate<Action<TOwner, Effectivity>>();

        public bool SaysSomething(object owner, object? value) =>
            value is Effectivity { Variants.IsEmpty: true, Options.IsEmpty: true, SerialFrom: null, SerialTo: null, OpenedFrom: null, OpenedBefore: null } is false;

        public void Fill(object owner)
        {
            if (_get((TOwner)owner) is null)
            {
                _set((TOwner)owner, Effectivity.Always);
            }
        }
    }

    private sealed class IsoDurationConverter : JsonConverter<TimeSpan>
    {
        public override TimeSpan Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) =>
            IsoDuration.TryParse(reader.GetString(), out var value) ? value : throw new JsonException("Not an ISO 8601 duration.");

        public override void Write(Utf8JsonWriter writer, TimeSpan value, JsonSerializerOptions options) =>
            writer.WriteStringValue(IsoDuration.Write(value));
    }
}
