using System.Globalization;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Acceptance.Robustness;

namespace Traceability.Acceptance.Faults;

/// <summary>One request as bytes on the wire.</summary>
/// <param name="What">What it is, for the message.</param>
/// <param name="Bytes">The bytes.</param>
/// <param name="IsWrite">Whether it would write, if it were good.</param>
/// <param name="IsHttp">Whether it can be read as HTTP: the server library refuses what can't by itself, without a problem document.</param>
internal sealed record WireRequest(string What, byte[] Bytes, bool IsWrite, bool IsHttp);

/// <summary>Makes requests by chance from the OpenAPI document: every operation, path, parameter, header and body, right and wrong. For one thread.</summary>
internal sealed class ContractRequests
{
    // A line of a request that is longer is refused by the server library.
    private const int LineMax = 8_000;

    private static readonly string[] Codes = ["LAMP", "HEAD", "ADH", "GR", "1", "2", "13", "L1", "L2", "G1", "T1", "ST-1", "DESK", "P-1", "P-9", "SD-1", "WORKS", "A", "B", "GLUE", "WIRE", "BOND", "MARRY", "CHIP", "OK", "DEPTH", "5", "C"];
    private static readonly string[] Paths = ["%00", "%2e%2e", "%2f", "%ff", "%c3%28", "%u0041", "%", "%zz", "a%0d%0aX:%20y", ";x=1", "\u00e9", "a\\b", "%F0%9F%98%80", "..", "//", "%25", "*", "$(x)", "'"];
    private static readonly string[] Numbers = ["0", "-1", "1", "1e999", "-0", "1.5", "99999999999999999999999999999999999999", "0.0000000000000000000000000000001", "1E-400", "2147483648", "9223372036854775808"];
    private static readonly string[] Times = ["2026-03-01T08:00:00Z", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59.9999999-14:00", "2026-02-30T08:00:00Z", "2026-03-01", "2026-03-01T08:00:00", "+010000-01-01T00:00:00Z", "2026-03-01T08:00:00+99:99"];

    private readonly Dice dice;
    private readonly string key;
    private readonly JsonElement root;
    private readonly (string Method, string Path, JsonElement Operation)[] operations;
    private readonly IReadOnlyList<Sent> valid;
    private readonly Dictionary<string, string> types = new(StringComparer.Ordinal);

    /// <summary>Reads the document.</summary>
    /// <param name="seed">Chooses.</param>
    /// <param name="key">A key that may do everything.</param>
    /// <param name="document">The OpenAPI document.</param>
    /// <param name="valid">Facts that would be accepted: some requests are these, spoiled or not.</param>
    public ContractRequests(ulong seed, string key, JsonElement document, IReadOnlyList<Sent> valid)
    {
        (dice, this.key, root, this.valid) = (new(seed), key, document, valid);
        operations =
        [
            .. from path in document.GetProperty("paths").EnumerateObject()
               from operation in path.Value.EnumerateObject()
               from weight in Enumerable.Range(0, operation.Name == "post" ? 4 : 1)
               select (operation.Name.ToUpperInvariant(), path.Name, operation.Value),
        ];
        foreach (var type in document.GetProperty("components").GetProperty("schemas").GetProperty("FactMessage").GetProperty("discriminator").GetProperty("mapping").EnumerateObject())
        {
            types[type.Value.GetString()!.Split('/')[^1]] = type.Name;
        }
    }

    /// <summary>How many operations there are; the requests go through them in turn, those that write more often.</summary>
    public int Operations => operations.DistinctBy(o => (o.Method, o.Path)).Count();

    /// <summary>The next request about an operation.</summary>
    /// <param name="number">Counts up.</param>
    public WireRequest Next(int number)
    {
        var (method, path, operation) = operations[number % operations.Length];
        var target = Target(path, operation);
        var body = operation.TryGetProperty("requestBody", out var declared) ? Body(path, declared) : dice.Chance(5) ? Mutation.Of(dice, "{}") : null;

        // A rebuild is refused for no fault of the request: while another one runs.
        var isWrite = method is "POST" && !path.EndsWith("/readiness", StringComparison.Ordinal) && path != "/api/rebuilds";
        if (dice.Chance(4))
        {
            method = dice.Pick("GET", "POST", "PUT", "PATCH", "DELETE", "HEAD", "OPTIONS", "TRACE", "BREW", "get");
        }

        var headers = new StringBuilder();
        headers.Append(CultureInfo.InvariantCulture, $"{method} {target} HTTP/1.1\r\nHost: 127.0.0.1\r\n");
        var isPlain = AddHeaders(headers, declared, body);
        byte[] bytes = [.. Encoding.Latin1.GetBytes(headers.ToString()), .. "\r\n"u8, .. body ?? []];

        // A byte of the head changed, or the head cut: whatever it is then.
        var isHttp = isPlain && target.Length < LineMax && !target.Any(c => c <= ' ' || c > '~') && !target.Contains("%00", StringComparison.Ordinal);
        if (dice.Chance(3))
        {
            bytes[dice.Int(0, Math.Min(bytes.Length - 1, headers.Length))] = (byte)dice.Int(0, 255);
            isHttp = false;
        }
        else if (dice.Chance(1))
        {
            bytes = bytes[..dice.Int(0, bytes.Length - 1)];
            isHttp = false;
        }

        return new($"{method} {path} as {target}", bytes, isWrite, isHttp);
    }

    // Whether none of them has a character that the server library refuses by itself.
    private bool AddHeaders(StringBuilder headers, JsonElement declared, byte[]? body)
    {
        var injected = dice.Chance(2) ? dice.Pick("\t", "\u0001", "\u0080\u00ff", "a, b", "\"") : string.Empty;
        headers.Append(CultureInfo.InvariantCulture, $"Authorization: {(dice.Chance(94) ? $"Bearer {key}" : dice.Pick("Basic abc", "Bearer", "Bearer " + new string('k', 3_000), "bearer " + key, $"Bearer {key} {key}", string.Empty))}{injected}\r\n");
        if (body is not null)
        {
            var taken = declared.ValueKind == JsonValueKind.Object ? declared.GetProperty("content").EnumerateObject().Select(c => c.Name).ToArray() : ["application/json"];
            var type = dice.Chance(95) ? dice.Pick(taken) : dice.Pick("text/plain", "application/json; charset=utf-16", "application/json;;", "x", string.Empty, "multipart/form-data; boundary=\"", "application/x-ndjson", "application/yaml");
            headers.Append(CultureInfo.InvariantCulture, $"Content-Type: {type}\r\nContent-Length: {body.Length}\r\n");
        }

        if (dice.Chance(30))
        {
            headers.Append(CultureInfo.InvariantCulture, $"Sent-At: {(dice.Chance(70) ? TimeProvider.System.GetUtcNow().ToString("O", CultureInfo.InvariantCulture) : dice.Pick(Times))}\r\n");
        }

        if (dice.Chance(5))
        {
            headers.Append(dice.Pick("Accept: image/png\r\n", "Accept-Encoding: br;q=x\r\n", "If-None-Match: \"\r\n", "Range: bytes=9-1\r\n", "X-Long: " + new string('x', 6_000) + "\r\n", "Expect: 100-continue\r\n", "Origin: null\r\n", "traceparent: 00-zz-zz-zz\r\n", "Cookie: =\r\n"));
        }

        return injected.All(c => c is '\t' or (>= ' ' and <= '~'));
    }

    private string Target(string path, JsonElement operation)
    {
        var filled = string.Join('/', path.Split('/').Select(s => s.StartsWith('{') ? dice.Chance(70) ? dice.Pick(Codes) : dice.Chance(50) ? dice.Pick(Paths) : Uri.EscapeDataString(Mutation.Text(dice)) : s));
        List<string> query = [];
        foreach (var parameter in operation.TryGetProperty("parameters", out var list) ? list.EnumerateArray().ToArray() : [])
        {
            if (parameter.GetProperty("in").GetString() != "query" || dice.Chance(40))
            {
                continue;
            }

            var value = dice.Int(0, 5) switch
            {
                0 => Uri.EscapeDataString(Mutation.Text(dice)),
                1 => dice.Pick(Paths),
                2 => dice.Pick(Numbers),
                3 => Uri.EscapeDataString(dice.Pick(Times)),
                4 => dice.Pick("step", "station,step", "day", "true", "in-process", "10", "all"),
                _ => dice.Pick(Codes),
            };
            query.AddRange(Enumerable.Repeat($"{parameter.GetProperty("name").GetString()}={value}", dice.Chance(4) ? 2 : 1));
        }

        if (dice.Chance(4))
        {
            query.Add(dice.Pick("x=1", "=", "&&&", "item", "%=%", "item[]=1", "limit=10;drop"));
        }

        return query.Count == 0 ? filled : $"{filled}?{string.Join('&', query)}";
    }

    private byte[] Body(string path, JsonElement declared)
    {
        var content = declared.GetProperty("content");
        var facts = root.GetProperty("paths").GetProperty("/api/facts").GetProperty("post").GetProperty("requestBody").GetProperty("content").GetProperty("application/json").GetProperty("schema");
        return path switch
        {
            "/api/facts/batch" or "/api/history" => Mutation.Lines(dice, [.. Enumerable.Range(0, dice.Int(1, 5)).Select(_ => dice.Chance(50) ? Valid() : Of(facts))]),
            "/api/facts" when dice.Chance(50) => Mutation.Of(dice, Valid()),
            "/api/master-data" => Mutation.Of(dice, MasterData()),
            "/api/attachments" => Mutation.Of(dice, dice.Pick("%PDF-1.7\n%%EOF", "time,torque\n1,1.2\n", "a chip at the rim")),
            _ => Mutation.Of(dice, Of(content.GetProperty("application/json").GetProperty("schema"))),
        };
    }

    private string Valid() => LampWorks.With(dice.Pick(valid).Json, "factId", JsonValue.Create(dice.Id().ToString()));

    // The file's own form is not in the document; its parts are those of the facts.
    private string MasterData() => new JsonObject
    {
        ["asOf"] = "2026-01-05T08:00:00+01:00",
        [dice.Pick("items", "stations", "lots", "tools", "people", "routings", "sites", "defects")] = new JsonArray(Value(Schema(dice.Pick("ItemDefined", "StationDefined", "LotReceived", "ToolDefined", "PersonDefined", "RoutingRevision")), "x", 0)),
    }.ToJsonString();

    private JsonElement Schema(string name) => root.GetProperty("components").GetProperty("schemas").GetProperty(name);

    private string Of(JsonElement schema) => (Value(schema, string.Empty, 0) ?? new JsonObject()).ToJsonString();

    private JsonNode? Value(JsonElement schema, string name, int depth)
    {
        if (schema.TryGetProperty("$ref", out var reference))
        {
            var named = reference.GetString()!.Split('/')[^1];
            var made = Value(Schema(named), name, depth);
            if (types.TryGetValue(named, out var type) && made is JsonObject fact)
            {
                fact["type"] = type;
                fact["factId"] = dice.Id().ToString();
                fact["occurredAt"] = "2026-03-01T08:00:00Z";
            }

            return made;
        }

        if (schema.TryGetProperty("oneOf", out var options) || schema.TryGetProperty("anyOf", out options))
        {
            return Value(dice.Pick(options.EnumerateArray().ToArray()), name, depth);
        }

        if (schema.TryGetProperty("enum", out var values))
        {
            return JsonNode.Parse(dice.Pick(values.EnumerateArray().ToArray()).GetRawText());
        }

        return Type(schema) switch
        {
            "object" => Object(schema, depth),
            "array" => depth > 8 ? new JsonArray() : new JsonArray([.. Enumerable.Range(0, dice.Pick(0, 1, 1, 2, 3)).Select(_ => schema.TryGetProperty("items", out var items) ? Value(items, name, depth + 1) : null)]),
            "integer" or "number" => dice.Chance(80) ? JsonValue.Create(dice.Pick(1, 2, 5, 0, -1, 1_000_000)) : JsonValue.Create((decimal)dice.Next() / dice.Pick(1m, 1e10m, 1e19m)),
            "boolean" => dice.Chance(50),
            "null" => null,
            _ => Text(schema, name),
        };
    }

    private string Type(JsonElement schema)
    {
        if (!schema.TryGetProperty("type", out var type))
        {
            return schema.TryGetProperty("properties", out _) || schema.TryGetProperty("allOf", out _) ? "object" : "string";
        }

        return type.ValueKind == JsonValueKind.String
            ? type.GetString()!
            : dice.Pick(type.EnumerateArray().Select(t => t.GetString()!).Where(t => t != "null" || dice.Chance(30)).DefaultIfEmpty("null").ToArray());
    }

    private JsonObject Object(JsonElement schema, int depth)
    {
        var made = new JsonObject();
        foreach (var part in schema.TryGetProperty("allOf", out var parts) ? parts.EnumerateArray().ToArray() : [])
        {
            foreach (var (inherited, value) in Value(part, string.Empty, depth)!.AsObject().ToArray())
            {
                made[inherited] = value?.DeepClone();
            }
        }

        var required = schema.TryGetProperty("required", out var names) ? names.EnumerateArray().Select(n => n.GetString()!).ToHashSet(StringComparer.Ordinal) : [];
        foreach (var property in schema.TryGetProperty("properties", out var properties) ? properties.EnumerateObject().ToArray() : [])
        {
            if ((required.Contains(property.Name) && dice.Chance(98)) || (depth < 6 && dice.Chance(40)))
            {
                made[property.Name] = Value(property.Value, property.Name, depth + 1);
            }
        }

        return made;
    }

    private JsonValue Text(JsonElement schema, string name)
    {
        var format = schema.TryGetProperty("format", out var f) ? f.GetString() : string.Empty;
        return JsonValue.Create(format switch
        {
            "uuid" => dice.Id().ToString(),
            "date-time" => dice.Chance(80) ? Times[0] : dice.Pick(Times),
            "duration" => dice.Pick("PT10M", "PT0S", "P99999D", "-PT1S"),
            _ => name switch
            {
                "unit" => dice.Pick("mm", "g", "N.m", "Pa", "s", "[in_i]", "smoot"),
                "station" => dice.Pick("ST-1", "DESK"),
                "person" or "authorisedBy" or "releasedBy" => dice.Pick("P-1", "P-9"),
                "item" => dice.Pick("LAMP", "HEAD", "ADH"),
                "lot" => "L1",
                _ => dice.Chance(85) ? dice.Pick(Codes) : Mutation.Text(dice),
            },
        });
    }
}
